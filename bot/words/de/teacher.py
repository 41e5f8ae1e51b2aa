"""German: teacher."""

from __future__ import annotations

from collections.abc import Mapping

COMMANDS: Mapping[str, str] = {
    "command.help": "diese Wörter",
    "command.cancel": "abbrechen, wonach gefragt war",
    "command.create": "eine Klasse anlegen",
    "command.class": "die Klasse wählen, um die es geht",
    "command.code": "Code, Link und Bild zum Beitreten",
    "command.invite": "ein Code für eine weitere Lehrkraft der Klasse",
    "command.close": "die Klasse beenden",
    "command.channel": "Kanal oder Gruppe der Klasse",
    "command.upload": "welche Dateien Sie schicken können",
    "command.undo": "das zuletzt Übernommene zurücknehmen",
    "command.timetable": "was als Nächstes kommt",
    "command.topic": "ein Thema beginnen",
    "command.topics": "was unterrichtet wurde, mit seinen Fragen",
    "command.add": "kurze Fragen hinzufügen",
    "command.questions": "Fragen ansehen, ändern, zurückziehen",
    "command.homework": "wer sie gemacht hat, und Korrekturen",
    "command.absent": "wer eine Stunde versäumt hat",
    "command.holiday": "Tage ohne Unterricht",
    "command.quiz": "kommende Tests und ihre Tage",
    "command.students": "wer dabei ist",
    "command.permit": "eine Erlaubnis eintragen",
    "command.rules": "Zeiten, Grenzen, Stunden, Bericht",
    "command.report": "die Woche bis jetzt",
    "command.workbook": "die Woche als Arbeitsmappe",
    "command.forecast": "der nächste Test, nach jetzigem Stand",
    "command.starter": "Fragen für den Anfang der nächsten Stunde",
    "command.quality": "welche Fragen nicht taugen",
    "command.illustration": "was Wiederholen bringt, an Ihrem Unterrichtsplan",
    "command.letters": "eine Seite je Person, für die Eltern",
    "command.comparison": "vorhergesagte und erreichte Testergebnisse",
    "command.share": "eine Zusammenfassung in den Kanal stellen",
    "command.export": "alles zur Klasse als Dateien",
    "command.records": "Antworten als offene Lernprotokolle",
}

BUTTONS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.button.create": "Klasse anlegen",
    "teacher.button.skip": "Weglassen",
    "teacher.button.new_code": "Neuer Code, alter endet",
    "teacher.button.close": "Klasse beenden",
    "teacher.button.bind_more": "Weiteren Ort verbinden",
    "teacher.button.unbind": "„{title}“ lösen",
    "teacher.button.cancel": "Abbrechen",
    "teacher.button.use_all": "Übernehmen",
    "teacher.button.use_rest": {"one": "Die andere Zeile", "other": "Die anderen {n} Zeilen"},
    "teacher.button.apply": "Übernehmen",
    "teacher.button.show_me": "Zeigen",
    "teacher.button.two_topics": "Es sind zwei Themen",
    "teacher.button.kind.timetable": "Unterrichtsplan",
    "teacher.button.kind.questions": "Fragen",
    "teacher.button.kind.roster": "Klassenliste",
    "teacher.button.kind.scores": "Testergebnisse",
    "teacher.button.looks_right": "Stimmt",
    "teacher.button.change": "Ändern",
    "teacher.button.not_a_topic": "Kein Thema",
    "teacher.button.is_a_topic": "Es ist ein Thema",
    "teacher.button.rename": "Anderer Name",
    "teacher.button.homework": "Hausaufgabe",
    "teacher.button.questions": "Fragen",
    "teacher.button.quiz_date": "Testtag",
    "teacher.button.enough": "Das ist alles",
    "teacher.button.edit": "Ändern",
    "teacher.button.retire": "Zurückziehen",
    "teacher.button.edit_number": "{position} ändern",
    "teacher.button.retire_number": "{position} zurückziehen",
    "teacher.button.add_question": "Fragen hinzufügen",
    "teacher.button.drop_holiday": "{name}, {day}: streichen",
    "teacher.button.move_quiz": "Den am {day} verlegen",
    "teacher.button.permit_list": "Erlaubnisse eintragen",
    "teacher.button.permit": "Erlaubnis ist da",
    "teacher.button.permit_code": "Code für die Eltern",
    "teacher.button.permit_all": "Alle {n}",
    "teacher.button.remove": "Aus der Klasse nehmen",
    "teacher.button.remove_yes": "Herausnehmen",
    "teacher.button.keep": "Behalten",
    "teacher.button.help": "Wörter zeigen",
    "teacher.button.share": "Zusammenfassung in den Kanal",
    "teacher.button.rule.nudge": "Uhrzeit der Fragen",
    "teacher.button.rule.quiet": "Ruhezeit",
    "teacher.button.rule.questions": "Fragen auf einmal",
    "teacher.button.rule.nudges": "Wie oft am Tag",
    "teacher.button.rule.allowance": "Grenze im Halbjahr",
    "teacher.button.rule.lessons": "Unterrichtszeiten",
    "teacher.button.rule.days": "Schultage",
    "teacher.button.rule.holidays": "In den Ferien",
    "teacher.button.rule.report": "Wochenbericht",
    "teacher.button.rule.permission": "Erlaubnis",
    "teacher.button.rule.zone": "Zeitzone",
    "teacher.button.rule.keep": "Daten behalten bis",
    "teacher.button.pull.report": "Bericht",
    "teacher.button.pull.workbook": "Arbeitsmappe",
    "teacher.button.pull.forecast": "Prognose",
    "teacher.button.pull.starter": "Einstieg",
    "teacher.button.pull.quality": "Fragen",
}

SETUP: Mapping[str, str] = {
    "teacher.welcome": (
        "Willkommen. Sie können hier jetzt Klassen anlegen.\nWie heißt Ihre erste Klasse? Zum Beispiel 10B Physik."
    ),
    "teacher.welcome_class": "Sie sind jetzt Lehrkraft von *{name}*. Mit *help* sehen Sie, was Sie tun können.",
    "teacher.ask_name": "Wie heißt die Klasse? Zum Beispiel 10B Physik.",
    "teacher.ask_name_again": "Eine Klasse braucht einen Namen mit 1 bis 80 Zeichen. Zum Beispiel 10B Physik.",
    "teacher.ask_subject": "*{name}*: Welches Fach unterrichten Sie dort?",
    "teacher.ask_self": "Wie nennt Ihre Klasse Sie? Zum Beispiel Frau Okafor. Das ist beim Beitreten zu sehen.",
    "teacher.ask_zone": "In welcher Zeitzone liegt die Schule? Antippen, oder eine Stadt wie Berlin schreiben.",
    "teacher.zone_unknown": (
        "Eine Zeitzone „{text}“ kenne ich nicht. Schreiben Sie eine große Stadt in derselben Zone, zum Beispiel "
        "Berlin oder Europe/Vienna."
    ),
    "teacher.zone_which": "Welche davon?",
    "teacher.created": (
        "*{name}* ist bereit. Als Nächstes: Schicken Sie mir Ihren Unterrichtsplan als Datei (CSV, Excel, "
        "OpenDocument oder Kalender), dann Fragen. Klären Sie bitte vorher die Regeln Ihrer Schule und die Erlaubnis "
        "der Eltern; *rules* hat eine Einstellung dafür. Hier ist der Code für Ihre Klasse:"
    ),
    "teacher.choose_class": "Sie sind bei *{name}*. Welche Klasse?",
    "teacher.class_chosen": "Jetzt bei *{name}*. Was Sie schicken oder fragen, betrifft diese Klasse.",
    "teacher.no_class": "Sie haben noch keine Klasse. Legen Sie zuerst eine an.",
    "teacher.code_with_link": (
        "*{name}* – zum Beitreten {link} öffnen oder dieses Bild scannen, oder mir den Code *{code}* schicken.\n"
        "Wer ihn hat, kann beitreten; *students* zeigt, wer dabei ist."
    ),
    "teacher.code_only": "Alle früheren Codes dieser Klasse gelten nicht mehr.",
    "teacher.code_alone": (
        "*{name}* – zum Beitreten mir den Code *{code}* schicken; das Bild enthält denselben Code.\n"
        "Wer ihn hat, kann beitreten; *students* zeigt, wer dabei ist."
    ),
    "teacher.invited": (
        "Geben Sie diesen Code einer Kollegin oder einem Kollegen: *{code}*. Innerhalb von 7 Tagen an mich geschickt, "
        "macht er zur Lehrkraft von *{name}*, mit denselben Rechten wie Ihren. Er gilt einmal."
    ),
    "teacher.close_sure": (
        "*{name}* beenden? Niemand wird mehr gefragt, niemand kann beitreten, und die Klasse ist nicht mehr zu sehen, "
        "auch für Sie nicht. Das Gespeicherte wird gelöscht nach: {until}. Mit *export* behalten Sie es vorher."
    ),
    "teacher.closed": "*{name}* ist beendet.",
    "teacher.channel_code": (
        "Nehmen Sie mich in den Kanal oder die Gruppe von *{name}* auf, mit dem Recht, dort zu schreiben; in eine "
        "Telegram-Gruppe als Administrator, sonst höre ich dort nichts. Stellen Sie "
        "dann innerhalb eines Tages diesen Code hinein: *{code}*"
    ),
    "teacher.channels": (
        "Mit dieser Klasse verbunden: {titles}. Eine Zeile wie „Neues Thema: Hookesches Gesetz“ beginnt dort ein Thema."
    ),
    "teacher.channel_bound": (
        "„{title}“ gehört jetzt zu *{name}*. Mit „Neues Thema: …“ dort beginnen Sie ein Thema."
    ),
    "teacher.channel_gone": "„{title}“ gehört nicht mehr zu dieser Klasse.",
    "teacher.channel_lost": (
        "Ich wurde aus „{title}“ entfernt. Themen von dort erreichen mich nicht mehr; Gespeichertes ist nicht "
        "verloren. Nehmen Sie mich wieder auf, oder tippen Sie *channel* für einen anderen Ort."
    ),
    "teacher.channel_limited": (
        "Ich darf in „{title}“ nicht mehr schreiben. Themen lese ich dort weiter. Geben Sie mir das Recht, zu "
        "schreiben, wenn ich Zusammenfassungen hineinstellen soll."
    ),
    "teacher.channel_back": "Ich bin wieder in „{title}“. Es gehört weiter zu *{name}*.",
}

FILES: Mapping[str, str | Mapping[str, str]] = {
    "teacher.reading": "Ich lese *{name}* …",
    "teacher.file_too_large": (
        "*{name}* ist größer als {mb} MB. Schicken Sie eine kleinere Datei, zum Beispiel ohne Bilder."
    ),
    "teacher.file_failed": "Mit *{name}* konnte ich nichts anfangen. Es ist nichts gespeichert.",
    "teacher.file_unknown": "Was ist *{name}*?",
    "teacher.upload_help": (
        "Für *{name}* können Sie mir als CSV-, Excel- oder OpenDocument-Datei schicken:\n"
        "• Unterrichtsplan: Datum, Thema, Art (Stunde, Test, Ferien), Hausaufgabe; auch als Kalenderdatei (.ics)\n"
        "• Fragen: Thema, Frage, Antwort, falsche Antworten, Einheit, Toleranz, Erklärung; warum falsch und Schritte "
        "für alle, die danebenliegen; Werte (s = 20..120 Schritt 10), wenn alle eigene Zahlen bekommen\n"
        "• Klassenliste: Name\n"
        "• Testergebnisse: Name, Test, Punkte, von\n"
        "Nichts wird gespeichert, bevor Sie gesehen haben, was ich gelesen habe."
    ),
    "teacher.preview": {
        "one": "Ich habe *1 Zeile* von *{name}* gelesen",
        "other": "Ich habe *{n} Zeilen* von *{name}* gelesen",
    },
    "teacher.rows_need_you": {"one": "*1 Zeile braucht Sie:*", "other": "*{n} Zeilen brauchen Sie:*"},
    "teacher.left_out": "*Weggelassen, weil ich es nicht zuordnen kann:*",
    "teacher.remarks": "*Bitte sehen Sie sich das an:*",
    "teacher.more": {"one": "… und 1 weitere.", "other": "… und {n} weitere."},
    "teacher.decide_first": "Erst muss ich das wissen. Noch ist nichts gespeichert.",
    "teacher.nothing_usable": "Darin ist nichts, was ich brauchen kann. Schicken Sie die verbesserte Datei.",
    "teacher.nothing_new": "Das ist genau, was ich habe. Es gibt nichts zu ändern.",
    "teacher.rest_not_new": "Die anderen Zeilen habe ich genau so. Schicken Sie die verbesserte Datei.",
    "teacher.which_quiz": "Von welchem Test sind diese Ergebnisse?",
    "teacher.compared": "Verglichen mit dem, was ich habe: {changes}.",
    "teacher.not_stored": "Noch ist nichts gespeichert.",
    "teacher.nothing_dropped": "nichts gestrichen",
    "teacher.changes": "*Was sich ändern würde:*\n{list}",
    "teacher.contents": "*Was ich gelesen habe:*\n{list}",
    "teacher.applied": "Fertig: {counts}. Mit *undo* nehmen Sie es zurück.",
    "teacher.applied_nothing": "Fertig: Es war nichts zu ändern.",
    "teacher.reviews_follow": "Die Wiederholungen folgen dem.",
    "teacher.without_questions": {
        "one": (
            "*1 Thema* hat noch keine Fragen, also kann dazu niemand gefragt werden. *topics* zeigt, welches."
        ),
        "other": (
            "*{n} Themen* haben noch keine Fragen, also kann dazu niemand gefragt werden. *topics* zeigt, welche."
        ),
    },
    "teacher.dropped": "Vergessen. Es wurde nichts gespeichert.",
    "teacher.undone": "Zurückgenommen: {name}. Alles ist wie vorher.",
    "teacher.kept.homework": "Hausaufgabe zu {value}",
    "teacher.kept.holiday": "Ferien ab {value}",
    "teacher.kept.no_holiday": "keine Ferien ab {value}",
    "teacher.kept.quiz": "verlegter Test, vorher {value}",
    "teacher.kept.topic": "Thema {value}",
    "teacher.kept.name": "neuer Name von {value}",
    "teacher.kept.questions": "Fragen ab {value}",
    "teacher.kept.question": "Frage {value}",
    "teacher.kept.retired": "zurückgezogene Frage {value}",
    "teacher.nothing_to_undo": "Es gibt nichts zurückzunehmen.",
}

COUNTS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.count.lessons": {"one": "1 Stunde", "other": "{n} Stunden"},
    "teacher.count.quizzes": {"one": "1 Test", "other": "{n} Tests"},
    "teacher.count.holidays": {"one": "1 Ferienzeit", "other": "{n} Ferienzeiten"},
    "teacher.count.questions": {"one": "1 Frage", "other": "{n} Fragen"},
    "teacher.count.choice": {"one": "1 Auswahl", "other": "{n} mit Auswahl"},
    "teacher.count.number": {"one": "1 Zahl", "other": "{n} Zahlen"},
    "teacher.count.text": {"one": "1 kurzer Text", "other": "{n} kurze Texte"},
    "teacher.count.formula": {"one": "1 Formel", "other": "{n} Formeln"},
    "teacher.count.topics": {"one": "zu 1 Thema", "other": "zu {n} Themen"},
    "teacher.count.new_topics": {"one": "1 mir neues Thema", "other": "{n} mir neue Themen"},
    "teacher.count.students": {"one": "1 Name", "other": "{n} Namen"},
    "teacher.count.scores": {"one": "1 Ergebnis", "other": "{n} Ergebnisse"},
    "teacher.change.moved": {"one": "1 verlegt", "other": "{n} verlegt"},
    "teacher.change.renamed": {"one": "1 umbenannt", "other": "{n} umbenannt"},
    "teacher.change.changed": {"one": "1 geändert", "other": "{n} geändert"},
    "teacher.change.new": {"one": "1 neu", "other": "{n} neu"},
    "teacher.change.dropped": {"one": "1 gestrichen", "other": "{n} gestrichen"},
    "teacher.applied.lessons": {"one": "1 Stunde", "other": "{n} Stunden"},
    "teacher.applied.quizzes": {"one": "1 Test", "other": "{n} Tests"},
    "teacher.applied.holidays": {"one": "1 Ferienzeit", "other": "{n} Ferienzeiten"},
    "teacher.applied.moved": {"one": "1 verlegt", "other": "{n} verlegt"},
    "teacher.applied.renamed": {"one": "1 umbenannt", "other": "{n} umbenannt"},
    "teacher.applied.changed": {"one": "1 geändert", "other": "{n} geändert"},
    "teacher.applied.new": {"one": "1 neu", "other": "{n} neu"},
    "teacher.applied.dropped": {"one": "1 gestrichen", "other": "{n} gestrichen"},
    "teacher.applied.added_questions": {"one": "1 Frage hinzugefügt", "other": "{n} Fragen hinzugefügt"},
    "teacher.applied.changed_questions": {"one": "1 Frage geändert", "other": "{n} Fragen geändert"},
    "teacher.applied.students": {"one": "1 Name hinzugefügt", "other": "{n} Namen hinzugefügt"},
    "teacher.applied.added_scores": {"one": "1 Ergebnis hinzugefügt", "other": "{n} Ergebnisse hinzugefügt"},
    "teacher.applied.changed_scores": {"one": "1 Ergebnis berichtigt", "other": "{n} Ergebnisse berichtigt"},
    "teacher.line.moved": "{what}: {before} → {after}",
    "teacher.line.renamed": "{before} → {after}: dasselbe Thema, umbenannt",
    "teacher.line.guessed": "{before} → {after}: Ich halte es wegen seines Tages für dasselbe Thema",
    "teacher.line.changed": "{what}, {day}: geändert",
    "teacher.line.new": "neu: {what}, {day}",
    "teacher.line.dropped": "gestrichen: {what}, {day}",
    "teacher.line.choice": "{topic}: {prompt} → {answer} (Auswahl)",
    "teacher.line.number": "{topic}: {prompt} → {answer} (Zahl)",
    "teacher.line.text": "{topic}: {prompt} → {answer} (kurzer Text)",
    "teacher.line.formula": "{topic}: {prompt} → {answer} (Formel)",
    "teacher.line.unknown_student": "Zeile {row}: niemand namens „{name}“ in dieser Klasse, oder zwei mit diesem Namen",
    "teacher.line.unknown_quiz": "Zeile {row}: kein Test „{name}“ im Unterrichtsplan",
    "teacher.line.unknown_topic": "Zeile {row}: kein Thema „{name}“ in dieser Klasse",
}

TOPICS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.topic.noted": "Notiert für *{name}*: {topic}, unterrichtet {day}",
    "teacher.topic.in_quiz": ", im Test am {day}",
    "teacher.topic.homework": "Hausaufgabe: {text}.",
    "teacher.topic.questions": {
        "one": "Dazu gibt es 1 Frage.",
        "other": "Dazu gibt es {n} Fragen.",
    },
    "teacher.topic.from": "Die ersten Fragen gehen am {day} hinaus.",
    "teacher.topic.no_questions": (
        "Dazu gibt es noch *keine Fragen*, also kann niemand gefragt werden. Tippen Sie *Stimmt* an und schicken Sie "
        "sie hier, eine je Nachricht (Frage / Antwort), oder schicken Sie eine Tabelle."
    ),
    "teacher.topic.remind": "Ich erinnere Sie am {day} um 15:00.",
    "teacher.topic.unclear": "Diese Zeilen habe ich nicht verstanden und weggelassen:",
    "teacher.topic.which_day": "An welchem Tag ist der Test?",
    "teacher.topic.right": "Gut. *{topic}* ist eingeplant.",
    "teacher.topic.change": "Was soll ich an *{topic}* ändern?",
    "teacher.topic.doubtful": "In {name} schrieben Sie über „{topic}“. Ist das ein neues Thema, heute unterrichtet?",
    "teacher.topic.nameless": (
        "In {name} haben Sie ein Thema begonnen, aber ich fand keinen Namen. Schreiben Sie dort „Neues Thema: "
        "Hookesches Gesetz“, oder hier „topic Hookesches Gesetz“."
    ),
    "teacher.topic.taken_back": "Zurückgenommen. Es war kein Thema.",
    "teacher.topic.forgotten": "Gut, ich lasse es.",
    "teacher.topic.renamed": "Es heißt jetzt *{topic}*. Fragen und Wiederholungen bleiben.",
    "teacher.topic.homework_set": "Hausaufgabe zu *{topic}*: {text}. Am Abend wird danach gefragt.",
    "teacher.topic.homework_cleared": "Keine Hausaufgabe zu *{topic}*.",
    "teacher.ask_topic": (
        "Was ist das Thema? Zum Beispiel: Hookesches Gesetz. Weitere Zeilen können folgen: Hausaufgabe: …, Test: "
        "11. Dez, Frage / Antwort."
    ),
    "teacher.ask_rename": "Wie soll *{topic}* heißen?",
    "teacher.ask_homework": "Was ist die Hausaufgabe zu *{topic}*? Mit *keine* wird sie gestrichen.",
    "teacher.no_topics": (
        "Es gibt noch kein Thema. Schicken Sie mir Ihren Unterrichtsplan, oder „topic Hookesches Gesetz“."
    ),
    "teacher.topics": "Bisher unterrichtet: {taught} von {n} Themen. Die letzten:\n{list}",
    "teacher.topic_line": {
        "one": "{topic} ({day}): 1 Frage",
        "other": "{topic} ({day}): {n} Fragen",
    },
    "teacher.remind_questions": {
        "one": (
            "*{names}* hat noch keine Fragen, also wird in {class_name} niemand danach gefragt. Schicken Sie sie eine "
            "je Nachricht (Frage / Antwort), oder eine Tabelle."
        ),
        "other": (
            "Diese Themen haben noch keine Fragen, also wird in {class_name} niemand danach gefragt: *{names}*. Wählen "
            "Sie eines, um welche hinzuzufügen, oder schicken Sie eine Tabelle."
        ),
    },
    "teacher.which_topic": "Zu welchem Thema? Tippen Sie es an, oder schreiben Sie seinen Namen.",
    "teacher.question_for": {
        "one": "Eine Frage, gut. Zu welchem Thema? Tippen Sie es an, oder schreiben Sie seinen Namen.",
        "other": "{n} Fragen, gut. Zu welchem Thema? Tippen Sie es an, oder schreiben Sie seinen Namen.",
    },
    "teacher.which_list": "Die Fragen welches Themas? Tippen Sie es an, oder schreiben Sie seinen Namen.",
    "teacher.topic_unknown": "Ein Thema „{text}“ kenne ich in dieser Klasse nicht. *topics* zählt sie auf.",
    "teacher.ask_questions": (
        "Schicken Sie die Fragen zu *{topic}*, eine je Zeile:\n"
        "Frage / Antwort\n"
        "Frage / richtige Antwort / falsche / falsche / falsche\n"
        "Auch ein Bild mit solchem Text geht. Weitere Zeilen können folgen: Einheit: …, Toleranz: …, weil: …"
    ),
    "teacher.question_form": (
        "Ich brauche eine Frage und ihre Antwort zu *{topic}*, dazwischen ein Schrägstrich mit Leerzeichen:\n"
        "Was ist die Einheit der Kraft? / Newton / Joule / Watt\n"
        "Mit *cancel* hören Sie auf."
    ),
    "teacher.picture_form": (
        "Ein Bild braucht einen Text mit Frage und Antwort: Frage / Antwort. Bitte schicken Sie es damit noch einmal. "
        "Eine Tabelle oder ein Unterrichtsplan kommt als Datei, nicht als Foto."
    ),
    "teacher.question_added": {
        "one": "Zu *{topic}* hinzugefügt (die erste): {shown}. Die nächste, oder *Das ist alles*.",
        "other": "Zu *{topic}* hinzugefügt (jetzt {n}): {shown}. Die nächste, oder *Das ist alles*.",
    },
    "teacher.questions_added": {
        "one": "Zu *{topic}* hinzugefügt (jetzt {total}):\n{list}\nDie nächste, oder *Das ist alles*.",
        "other": "{n} Fragen zu *{topic}* hinzugefügt (jetzt {total}):\n{list}\nDie nächste, oder *Das ist alles*.",
    },
    "teacher.questions_refused": "Nicht hinzugefügt:",
    "teacher.edit_one": "Das ist mehr als eine Frage. Bitte schicken Sie die eine, die an diese Stelle tritt.",
    "teacher.question_changed": "Geändert: {shown}.",
    "teacher.question_retired": (
        "Zurückgezogen: „{prompt}“. Sie wird nicht mehr gestellt; *undo* holt sie zurück."
    ),
    "teacher.shown.choice": "„{prompt}“ – eine Auswahl; richtig: {answer}",
    "teacher.shown.number": "„{prompt}“ – eine Zahl: {answer}",
    "teacher.shown.text": "„{prompt}“ – ein kurzer Text: {answer}",
    "teacher.shown.formula": "„{prompt}“ – eine Formel: {answer}",
    "teacher.enough": {
        "one": "*{topic}* hat jetzt 1 Frage.",
        "other": "*{topic}* hat jetzt {n} Fragen.",
    },
    "teacher.enough_any": "Gut.",
    "teacher.no_questions": "*{topic}* hat noch keine Fragen.",
    "teacher.questions": {"one": "*{topic}*: 1 Frage", "other": "*{topic}*: {n} Fragen"},
    "teacher.question_line": "{position}. {prompt} → {answer}",
    "teacher.question_line_picture": "{position}. [Bild] {prompt} → {answer}",
    "teacher.answered": {"one": " (einmal beantwortet)", "other": " ({n}-mal beantwortet)"},
    "teacher.earlier_questions": {"one": "… und 1 davor.", "other": "… und {n} davor."},
    "teacher.edit_question": (
        "Schicken Sie die Frage so, wie sie sein soll. Jetzt ist sie:\n{line}\nMit *cancel* bleibt sie so."
    ),
}

CALENDAR: Mapping[str, str | Mapping[str, str]] = {
    "teacher.quiz": "Test",
    "teacher.exam": "Prüfung",
    "teacher.holiday": "Ferien",
    "teacher.ahead": (
        "*Was als Nächstes kommt*\n{list}\nZum Ändern schicken Sie mir eine Datei, oder nehmen Sie *quiz*, *holiday*, "
        "*topic*."
    ),
    "teacher.nothing_ahead": (
        "Im Unterrichtsplan steht nichts mehr. Schicken Sie mir einen als Datei, oder schreiben Sie ein Thema."
    ),
    "teacher.no_homework": (
        "In den letzten vier Wochen gab es keine Hausaufgabe. Fügen Sie sie beim Thema hinzu: Hausaufgabe: Seite 12."
    ),
    "teacher.which_homework": "Welche Hausaufgabe?",
    "teacher.homework_list": (
        "*{topic}*: {done} von {n} haben die Hausaufgabe gemacht. Tippen Sie einen Namen an, um ihn zu berichtigen."
    ),
    "teacher.hw.done": "✓ {name}",
    "teacher.hw.not": "✗ {name}",
    "teacher.hw.unknown": "? {name}",
    "teacher.no_lesson_yet": "In den letzten vier Wochen gab es keine Stunde.",
    "teacher.which_lesson": "Wer hat welche Stunde versäumt? Sie können auch schreiben: absent Tom, Mira.",
    "teacher.absence": {
        "one": "*{topic}*, {day}: 1 hat gefehlt. Tippen Sie einen Namen an, um das zu ändern.",
        "other": "*{topic}*, {day}: {n} haben gefehlt. Tippen Sie einen Namen an, um das zu ändern.",
    },
    "teacher.absent.yes": "✗ {name} hat gefehlt",
    "teacher.absent.no": "{name}",
    "teacher.absent_noted": (
        "Notiert: {names}, bei *{topic}* am {day} nicht da. Die Stunde gilt für sie nicht als unterrichtet."
    ),
    "teacher.student_unknown": (
        "Ich weiß nicht, wer mit {names} gemeint ist, oder zwei heißen so. *students* zählt alle auf."
    ),
    "teacher.absent_unknown": "Niemand wurde eingetragen. {why}",
    "teacher.ask_holiday": "An welchen Tagen ist kein Unterricht? Zum Beispiel: 21. Dez - 3. Jan Weihnachtsferien.",
    "teacher.holiday_unread": (
        "In „{text}“ konnte ich keine Tage lesen. Zum Beispiel: 21. Dez - 3. Jan Weihnachtsferien, oder 2026-12-08 "
        "Pädagogischer Tag."
    ),
    "teacher.holiday_added_day": "Keine Fragen am {first}. Die Wiederholungen folgen dem.",
    "teacher.holiday_added": "Keine Fragen vom {first} bis {last}. Die Wiederholungen folgen dem.",
    "teacher.holiday_known": "Diese Ferien habe ich schon.",
    "teacher.holiday_dropped_day": "{first} ist wieder ein Schultag. Die Wiederholungen folgen dem.",
    "teacher.holiday_dropped": "{first} bis {last} sind wieder Schultage. Die Wiederholungen folgen dem.",
    "teacher.no_quiz": (
        "Es steht kein Test bevor. Ergänzen Sie einen im Unterrichtsplan, oder beim Thema: Test: 11. Dez."
    ),
    "teacher.quizzes": "*Kommende Tests*\n{list}",
    "teacher.quiz_line": {"one": "{day}: {name}, 1 Thema", "other": "{day}: {name}, {n} Themen"},
    "teacher.ask_quiz_day": "An welchem Tag ist er jetzt (*{name}*)? Zum Beispiel 14. Dez.",
    "teacher.day_unread": "In „{text}“ konnte ich keinen Tag lesen. Zum Beispiel 14. Dez, Freitag, oder 2026-12-14.",
    "teacher.which_day": "Welcher dieser Tage?",
    "teacher.day_past": "{day} ist vorbei. Welcher kommende Tag?",
    "teacher.quiz_moved": "Der Test ist jetzt am {day}. Die Wiederholungen folgen dem.",
    "teacher.quiz_same": "Der Test ist schon am {day}.",
    "teacher.day_off": "{day} ist in dieser Klasse kein Schultag.",
    "teacher.left_standing": (
        "*Geplant an Tagen, die jetzt ohne Schule sind*\n{list}\n"
        "Nichts wurde verlegt. Ein geänderter Unterrichtsplan verlegt Stunden."
    ),
    "teacher.left_standing_quiz": (
        "*Geplant an Tagen, die jetzt ohne Schule sind*\n{list}\n"
        "Nichts wurde verlegt. *quiz* verlegt einen Test, ein geänderter Unterrichtsplan verlegt Stunden."
    ),
    "teacher.days_off": "{first} und {last} sind in dieser Klasse keine Schultage.",
}

STUDENTS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.no_students": "Noch ist niemand dabei. *code* zeigt, wie es geht.",
    "teacher.students": "{list}\nTippen Sie einen Namen an für mehr.",
    "teacher.students.asked": {"one": "1 wird gefragt: {names}", "other": "{n} werden gefragt: {names}"},
    "teacher.students.paused": {"one": "1 macht Pause: {names}", "other": "{n} machen Pause: {names}"},
    "teacher.students.waiting": {
        "one": "1 wartet auf Erlaubnis: {names}",
        "other": "{n} warten auf Erlaubnis: {names}",
    },
    "teacher.students.not_joined": {
        "one": "1 ist noch nicht dabei: {names}",
        "other": "{n} sind noch nicht dabei: {names}",
    },
    "teacher.student.active": "*{name}* wird gefragt.",
    "teacher.student.paused": "*{name}* macht Pause.",
    "teacher.student.waiting": (
        "*{name}* ist einverstanden und wartet auf die Erlaubnis der Schule. Vorher wird nichts gefragt."
    ),
    "teacher.student.not_joined": "*{name}* steht auf der Klassenliste und ist noch nicht dabei.",
    "teacher.nobody_waits": "Niemand wartet auf Erlaubnis.",
    "teacher.permit_whom": {
        "one": "Wessen Erlaubnis ist da? 1 Person wartet.",
        "other": "Wessen Erlaubnis ist da? {n} Personen warten.",
    },
    "teacher.permitted": {
        "one": "Eingetragen für {names}. Die Fragen beginnen mit dem nächsten Schultag.",
        "other": "Eingetragen für {n}: {names}. Die Fragen beginnen mit dem nächsten Schultag.",
    },
    "teacher.permission_code": (
        "Geben Sie diesen Code den Eltern von *{name}*: *{code}*. Wer ihn mir innerhalb von 30 Tagen schickt, gibt "
        "die Erlaubnis. Er gilt einmal."
    ),
    "teacher.ask_student": "Wie soll *{name}* in dieser Klasse heißen?",
    "teacher.student_renamed": "Der Name ist jetzt *{name}*.",
    "teacher.remove_sure": (
        "*{name}* aus der Klasse nehmen? Es wird nichts mehr gefragt; die Antworten bleiben, bis sie gelöscht werden."
    ),
    "teacher.removed": "*{name}* ist nicht mehr in der Klasse.",
}

RULES: Mapping[str, str] = {
    "teacher.yes": "ja",
    "teacher.no": "nein",
    "teacher.no_limit": "keine",
    "teacher.not_given": "nicht angegeben",
    "teacher.keep_default": "Ende des Schuljahres",
    "teacher.rules": (
        "*Regeln*\n"
        "Fragen um {nudge}, je {questions}, {nudges} × am Tag\n"
        "Ruhezeit {quiet}\n"
        "Unterrichtszeiten: {lessons}\n"
        "Schultage: {days}; in den Ferien: {holidays}\n"
        "Grenze je Person und Halbjahr: {allowance}\n"
        "Wochenbericht: {report}\n"
        "Erlaubnis der Schule nötig: {permission}\n"
        "Zeitzone {zone}; Daten bis: {keep}"
    ),
    "teacher.ask_rule.nudge": (
        "Um wie viel Uhr sollen die Fragen hinausgehen? Zum Beispiel 18:00. Alle können eine eigene Zeit wählen."
    ),
    "teacher.ask_rule.quiet": "Von wann bis wann soll nichts geschickt werden? Zum Beispiel 20:00-07:30.",
    "teacher.ask_rule.questions": "Wie viele Fragen auf einmal? 3 ist üblich; höchstens 10 am Tag insgesamt.",
    "teacher.ask_rule.nudges": "Wie oft am Tag, 1 oder 2?",
    "teacher.ask_rule.allowance": (
        "Wie viele Fragen darf eine Person im ganzen Halbjahr bekommen? Eine Zahl, oder *keine* für keine Grenze."
    ),
    "teacher.ask_rule.lessons": (
        "Wann ist Unterricht? Dann wird nichts geschickt. Zum Beispiel: Montag 8:00-8:45, Mittwoch 10:00-11:30; oder "
        "*keine*."
    ),
    "teacher.ask_rule.days": "Welche Tage sind Schultage? Zum Beispiel: Montag Dienstag Mittwoch Donnerstag Freitag.",
    "teacher.ask_rule.holidays": "Sollen auch in den Ferien Fragen hinausgehen? *ja* oder *nein*.",
    "teacher.ask_rule.report": "Wann soll der Wochenbericht kommen? Zum Beispiel: Freitag 15:30.",
    "teacher.ask_rule.permission": (
        "Muss die Erlaubnis der Schule oder der Eltern eingetragen sein, bevor gefragt wird? *ja* oder *nein*."
    ),
    "teacher.ask_rule.zone": "In welcher Zeitzone liegt die Schule? Zum Beispiel Europe/Berlin, oder eine Stadt.",
    "teacher.ask_rule.keep": "Bis zu welchem Tag sollen Antworten behalten werden? Zum Beispiel 31. Juli 2027.",
}

PULLS: Mapping[str, str] = {
    "teacher.pulling.report": "Ich rechne die Woche aus …",
    "teacher.pulling.workbook": "Ich schreibe die Arbeitsmappe …",
    "teacher.pulling.forecast": "Ich rechne die Prognose aus …",
    "teacher.pulling.starter": "Ich wähle Fragen …",
    "teacher.pulling.quality": "Ich sehe mir die Fragen an …",
    "teacher.pulling.illustration": "Ich zeichne …",
    "teacher.pulling.letters": "Ich schreibe die Briefe …",
    "teacher.pulling.export": "Ich sammle alles …",
    "teacher.pulling.records": "Ich schreibe die Protokolle …",
    "teacher.pulling.comparison": "Ich vergleiche …",
    "teacher.pulling.summary": "Ich rechne die Zusammenfassung aus …",
    "teacher.made.week": "Die Woche als Bild.",
    "teacher.made.workbook": "Dasselbe als Arbeitsmappe, zum Sortieren und Filtern.",
    "teacher.made.forecast": "Die Prognose als Bild. Eine Prognose ist keine Note.",
    "teacher.made.starter": "Zum Zeigen an der Wand.",
    "teacher.made.illustration": "Was Wiederholen bringt. Eine Faustregel, keine Vorhersage.",
    "teacher.made.letters_pdf": "Eine Seite pro Person, zum Drucken.",
    "teacher.made.letters": "Eine Seite je Person. Drucken Sie sie aus einem Browser.",
    "teacher.made.export": "Alles zur Klasse. Es enthält Namen: bitte sicher aufbewahren.",
    "teacher.made.records": (
        "Jede Antwort als xAPI-Aussage und als Tabelle mit Erklärung der Spalten. Statt der Namen stehen Pseudonyme, "
        "jedes Mal dieselben; *records names* schreibt die Namen."
    ),
    "teacher.made.records_named": (
        "Jede Antwort als xAPI-Aussage und als Tabelle mit Erklärung der Spalten, *mit Namen*: bitte sicher "
        "aufbewahren."
    ),
    "teacher.made.comparison": "Vorhergesagte und erreichte Ergebnisse.",
    "teacher.week_unread": "In „{text}“ konnte ich keine Woche lesen. Zum Beispiel: KW 48, oder: letzte Woche.",
    "teacher.week_ahead": "Die Woche vom {day} hat noch nicht begonnen.",
    "teacher.records_unread": (
        "Ich kenne *records* und *records names*, nicht „{text}“. Es wurde nichts geschrieben."
    ),
    "teacher.nothing_yet": "Es gibt noch nichts zu zeigen.",
    "teacher.starter_counted": "Notiert. Das Modell nimmt es für die Klasse als Ganzes.",
    "teacher.no_channel": "Es gibt keinen Kanal, in den ich schreiben darf. *channel* verbindet einen.",
    "teacher.which_channel": "An welchen Ort?",
    "teacher.shared": "In „{title}“ gestellt.",
    "teacher.shared_before": "Dieselbe Zusammenfassung steht schon in „{title}“, sie kommt nicht noch einmal.",
}

GENERAL: Mapping[str, str] = {
    "teacher.not_understood": (
        "Das habe ich nicht verstanden. Schicken Sie eine Datei, ein Thema („Neues Thema: …“), eine Frage (Frage / "
        "Antwort), oder tippen Sie *help*."
    ),
    "teacher.help": "Dateien, Themen und Fragen schicken Sie einfach. Oder tippen Sie ein Wort:",
    "teacher.cancelled": "Abgebrochen. Es wurde nichts gespeichert.",
    "teacher.nothing_open": "Es gibt nichts abzubrechen.",
    "teacher.gone": "Das ist nicht mehr da.",
    "teacher.refused": "{why}",
}

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    **COMMANDS,
    **BUTTONS,
    **SETUP,
    **FILES,
    **COUNTS,
    **TOPICS,
    **CALENDAR,
    **STUDENTS,
    **RULES,
    **PULLS,
    **GENERAL,
}
