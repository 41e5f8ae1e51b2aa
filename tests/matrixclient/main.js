// Starts the whole of a general Matrix web client from its library; `tests.matrixscreens` uses it as a person does.
import { FeatureSet, Platform, RootViewModel, createNavigation, createRouter } from "hydrogen-view-sdk";

const assetPaths = {
  downloadSandbox: "assets/download-sandbox.html",
  worker: "assets/main.js",
  olm: { wasm: "olm.wasm", legacyBundle: "olm_legacy.js", wasmBundle: "olm.js" },
  serviceWorker: "sw.js",
};
const defaultHomeServer = new URLSearchParams(location.search).get("homeserver");
const platform = new Platform({
  container: document.querySelector("#app"), assetPaths, config: { defaultHomeServer }, options: {},
});

await platform.init();
const navigation = createNavigation();
platform.setNavigation(navigation);
const urlRouter = createRouter({ navigation, history: platform.history });
urlRouter.attach();
const features = await FeatureSet.load(platform.settingsStorage);
const whole = new RootViewModel({ platform, urlRouter, navigation, features });
await whole.load();
platform.createAndMountRootView(whole);
