"""Questions in the form of the open standard QTI (1EdTech, Question and Test Interoperability)."""
