"""German: what is wrong with an uploaded file: what, and under ``.todo`` what to do."""

from __future__ import annotations

from collections.abc import Mapping

FILE: Mapping[str, tuple[str, str]] = {
    # --- the whole file
    "file_empty": (
        "{name} ist leer",
        "Speichern Sie sie im Tabellenprogramm noch einmal und schicken Sie sie wieder.",
    ),
    "file_large": (
        "{name} hat {size}; die Grenze ist {limit}",
        "Schicken Sie eine Datei mit nur einer Klasse und einem Schuljahr, ohne Bilder.",
    ),
    "file_unpacked_large": (
        "{name} wird entpackt {size} groß; die Grenze ist {limit}",
        "Kopieren Sie die Tabelle in eine neue, leere Arbeitsmappe und schicken Sie diese.",
    ),
    "file_members": (
        "{name} besteht aus {size} Teilen; die Grenze ist {limit}",
        "Kopieren Sie die Tabelle in eine neue, leere Arbeitsmappe und schicken Sie diese.",
    ),
    "file_costly": (
        "{name} braucht zum Lesen mehr Zeit oder Speicher als jede echte Tabelle",
        "Kopieren Sie die Tabelle in eine neue, leere Arbeitsmappe und schicken Sie diese.",
    ),
    "file_broken": (
        "{name} sieht aus wie {kind}, ist aber beschädigt und nicht lesbar",
        "Öffnen Sie sie im Tabellen- oder Kalenderprogramm, speichern Sie sie noch einmal und schicken Sie die neue "
        "Datei.",
    ),
    "file_reader_lost": (
        "{name} war nicht lesbar, weil das Leseprogramm nicht starten konnte",
        "Schicken Sie sie in einer Minute noch einmal; bleibt es dabei, sagen Sie es der Technik Ihrer Schule.",
    ),
    "file_kind": (
        "{name} ist {kind}; das kann hier nicht gelesen werden",
        "Speichern Sie sie als .xlsx, .ods oder .csv und schicken Sie das.",
    ),
    "file_macros": (
        "{name} enthält Makros, und Programme in Dateien werden nie angenommen",
        "Speichern Sie sie als gewöhnliche Arbeitsmappe (.xlsx) und schicken Sie das.",
    ),
    "file_locked": (
        "{name} ist mit einem Passwort geschützt",
        "Speichern Sie sie ohne Passwort und schicken Sie sie noch einmal.",
    ),
    "file_entities": (
        "{name} enthält Angaben, die kein Tabellenprogramm schreibt",
        "Kopieren Sie die Tabelle in eine neue, leere Arbeitsmappe und schicken Sie diese.",
    ),
    "file_encoding": (
        "{name} ist nicht als Text lesbar: Byte {offset} hat in UTF-8, UTF-16 und Windows-1252 keine Bedeutung",
        "Wählen Sie im Tabellenprogramm beim Speichern „CSV UTF-8“ oder .xlsx.",
    ),
    "file_nul": (
        "{name} ist keine Textdatei: An Stelle {offset} steht ein Nullbyte",
        "Speichern Sie sie als .xlsx, .ods oder „CSV UTF-8“ und schicken Sie das.",
    ),
    "file_calendar": (
        "{name} ist ein Kalender, und daraus lässt sich nicht lesen: {wanted}",
        "Schicken Sie {wanted} als Tabelle (.xlsx, .ods oder .csv).",
    ),
    "encoding_unclear": (
        "die Buchstaben von {name} lassen sich auf mehrere Arten lesen: {ways}",
        "Sagen Sie, was richtig ist. Vorher wird nichts gelesen.",
    ),
    "hidden_rows": (
        "{name} hat Zeilen, die ausgeblendet oder weggefiltert sind: {rows}",
        "Sagen Sie, ob sie gemeint sind. Vorher wird nichts gelesen.",
    ),
    "hidden_columns": (
        "{name} hat ausgeblendete Spalten: {columns}",
        "Sagen Sie, ob sie gemeint sind. Vorher wird nichts gelesen.",
    ),
    "hidden_both": (
        "{name} hat ausgeblendete Zeilen ({rows}) und Spalten ({columns})",
        "Sagen Sie, ob sie gemeint sind. Vorher wird nichts gelesen.",
    ),
    "quote_open": (
        "hier beginnt ein Anführungszeichen, das nie endet, also ist der Rest der Datei eine einzige Zelle",
        "Schließen Sie es, oder speichern Sie die Tabelle als .xlsx.",
    ),
    "rows_many": ("{name} hat mehr als {limit} Zeilen", "Schicken Sie je eine Klasse und ein Schuljahr."),
    "columns_many": (
        "{name} hat Inhalt jenseits der Spalte {limit}",
        "Löschen Sie, was rechts der Tabelle steht, oder kopieren Sie die Tabelle in ein neues Blatt.",
    ),
    "text_much": ("{name} enthält mehr als {limit} Zeichen Text", "Schicken Sie sie in zwei Dateien."),
    "rows_none": (
        "{name} hat eine Zeile mit Überschriften und nichts darunter",
        "Füllen Sie die Zeilen aus und schicken Sie sie noch einmal.",
    ),
    "headings_none": (
        "{name} hat keine Zeile mit Überschriften, die ich kenne",
        "Setzen Sie eine erste Zeile mit Überschriften über die Tabelle: {wanted}.",
    ),
    "heading_missing": (
        "es gibt keine Spalte „{wanted}“{hint}",
        "Ergänzen Sie eine Überschrift „{wanted}“ (auch verstanden: {also}).",
    ),
    "heading_twice": (
        "zwei Spalten bedeuten „{wanted}“: {found}",
        "Löschen Sie eine davon, oder geben Sie ihr eine andere Überschrift.",
    ),
    # --- one cell or row
    "cell_long": ("der Text hat {size} Zeichen; die Grenze ist {limit}", "Kürzen Sie ihn."),
    "cell_control": (
        "der Text „{found}“ enthält ein Zeichen, das nicht gezeigt werden kann",
        "Leeren Sie die Zelle und tippen Sie ihn neu.",
    ),
    "cell_error": (
        "die Zelle zeigt den Fehler {found}",
        "Verbessern Sie die Formel, oder tippen Sie den Wert selbst.",
    ),
    "cell_formula": (
        "die Formel „{found}“ hat kein gespeichertes Ergebnis",
        "Öffnen Sie die Datei im Tabellenprogramm, speichern Sie sie dort und schicken Sie das; oder tippen Sie den "
        "Wert selbst.",
    ),
    "cell_missing": ("hier steht nichts", "Schreiben Sie {wanted}, oder löschen Sie die Zeile."),
    "cells_extra": (
        "die Zeile hat {size} Zellen, mehr als die {limit} der Überschriften",
        "Setzen Sie einen Text mit dem Trennzeichen in Anführungszeichen, oder speichern Sie die Tabelle als .xlsx.",
    ),
    "title_two_ways": (
        "„{found}“ kann ein Test oder das Thema einer Stunde sein{more}",
        "Sagen Sie, was gemeint ist, oder schreiben Sie es in eine Spalte für die Art.",
    ),
    "kind_unknown": (
        "„{found}“ ist keine Art von Eintrag{hint}",
        "Schreiben Sie Stunde, Test, Prüfung oder Ferien.",
    ),
    "date_unreal": ("„{found}“ ist kein Tag, den es gibt", "Schreiben Sie {order}, zum Beispiel {example}."),
    "date_unread": ("„{found}“ ist kein Datum", "Schreiben Sie {order}, zum Beispiel {example}."),
    "date_no_year": ("„{found}“ hat kein Jahr", "Schreiben Sie {order}, zum Beispiel {example}."),
    "date_number": ("{found} ist eine bloße Zahl, kein Datum", "Formatieren Sie die Zelle als Datum{hint}."),
    "date_far": (
        "„{found}“ ({meant}) ist mehr als {limit} Tage von heute",
        "Verbessern Sie das Jahr, oder lassen Sie die Zeile weg.",
    ),
    "date_weekday": (
        "„{found}“ passt nicht: {meant} ist ein {weekday}",
        "Verbessern Sie den Tag oder den Wochentag.",
    ),
    "date_order": ("„{found}“ liegt vor dem ersten Tag, {first}", "Vertauschen Sie die beiden Daten."),
    "holiday_long": (
        "die Ferien würden {size} Tage dauern; die Grenze ist {limit}",
        "Verbessern Sie eines der beiden Daten.",
    ),
    "date_two_ways": (
        "„{found}“ kann {first} oder {second} sein{more}",
        "Sagen Sie, ob in dieser Spalte der Tag oder der Monat zuerst steht.",
    ),
    "lesson_span": (
        "„{found}“ ist ein anderer Tag als {first}, und eine Stunde ist an einem Tag",
        "Schreiben Sie eine Zeile je Stunde, oder Ferien in die Spalte für die Art.",
    ),
    "time_unread": ("„{found}“ ist keine Uhrzeit", "Schreiben Sie Stunden und Minuten, zum Beispiel 08:30."),
    "time_order": ("„{found}“ ist nicht später als der Anfang, {first}", "Verbessern Sie Anfang oder Ende."),
    "row_twice": (
        "„{found}“ steht schon in Zeile {other}",
        "Löschen Sie eine der beiden Zeilen, oder ändern Sie sie.",
    ),
    "topic_unknown": (
        "„{found}“ ist kein Thema dieses Unterrichtsplans{hint}",
        "Schreiben Sie Themen so, wie sie in ihren Stunden stehen, mit ; dazwischen.",
    ),
    # --- questions
    "question_kind": (
        "„{found}“ ist keine Art von Frage{hint}",
        "Schreiben Sie Auswahl, Zahl, Text oder Formel, oder lassen Sie es leer.",
    ),
    "question_topic": (
        "„{found}“ ist kein Thema dieser Klasse{hint}",
        "Schreiben Sie das Thema so, wie es im Unterrichtsplan steht, oder ergänzen Sie es dort zuerst.",
    ),
    "options_none": (
        "eine Frage mit Auswahl braucht falsche Antworten",
        "Schreiben Sie sie mit | dazwischen.",
    ),
    "options_many": ("es sind {size} falsche Antworten; die Grenze ist {limit}", "Behalten Sie die besten."),
    "options_same": (
        "die falsche Antwort „{found}“ ist dieselbe wie {other}",
        "Ändern oder löschen Sie eine der beiden.",
    ),
    "options_one": (
        "„{found}“ wurde als eine einzige falsche Antwort gelesen",
        "Wenn es mehrere sind, setzen Sie | dazwischen.",
    ),
    "key_two_ways": (
        "der Schlüssel „{found}“ kann die Antwortmöglichkeit „{first}“ nennen oder selbst die Antwort „{second}“ sein",
        "Sagen Sie, wie die Schlüssel dieser Tabelle gemeint sind.",
    ),
    "key_unknown": (
        "die Antwort „{found}“ ist keine der Antwortmöglichkeiten",
        "Schreiben Sie den Buchstaben der richtigen, ihre Nummer oder ihren Text.",
    ),
    "key_several": (
        "der Schlüssel „{found}“ nennt mehrere Antwortmöglichkeiten, und nur eine kann richtig sein",
        "Behalten Sie eine davon, oder machen Sie zwei Fragen daraus.",
    ),
    "key_beside": (
        "die Antwort ist nur „{found}“, und diese Spalten daneben wurden nicht gelesen: {columns}",
        "Wenn darin die Antwortmöglichkeiten stehen, nennen Sie die Spalten A, B, C und so weiter; sonst schreiben Sie "
        "die Antwort aus.",
    ),
    "key_inside": (
        "die Antwort ist nur „{found}“, und die Antwortmöglichkeiten stehen wohl in der Frage",
        "Schreiben Sie jede in eine eigene Spalte, mit den Überschriften A, B, C und so weiter.",
    ),
    "key_letter": (
        "die Antwort ist nur „{found}“, ein Buchstabe neben falschen Antworten, die Wörter sind",
        "Schreiben Sie die Antwort aus.",
    ),
    "answer_number": ("„{found}“ ist keine Zahl", "Schreiben Sie sie in Ziffern, zum Beispiel 2,7 oder 3e8."),
    "number_two_ways": (
        "„{found}“ kann {first} oder {second} sein",
        "Schreiben Sie sie ohne Tausendertrennzeichen, zum Beispiel {first} oder {second}.",
    ),
    "cell_became_date": (
        "die Tabelle hat aus dieser Zelle das Datum {found} gemacht",
        "Formatieren Sie die Zelle als Text und tippen Sie sie neu, zum Beispiel 3/4.",
    ),
    "tolerance_unread": ("„{found}“ ist keine Toleranz", "Schreiben Sie 0,1 (absolut) oder 5 % (relativ)."),
    "tolerance_idle": (
        "die Toleranz „{found}“ wird nicht gebraucht: Das ist keine Frage nach einer Zahl",
        "Löschen Sie sie, oder schreiben Sie die Antwort als Zahl.",
    ),
    "drawn_idle": (
        "„{found}“ wird nicht gebraucht: Diese Frage hat keine Werte, die gezogen werden",
        "Schreiben Sie in die Spalte Werte, was gezogen wird, zum Beispiel s = 20..120 Schritt 10, oder löschen Sie "
        "es.",
    ),
    "why_many": (
        "es stehen {size} Erklärungen zu falschen Antworten da, aber {limit} falsche Antworten",
        "Schreiben Sie zu jeder eine, in derselben Reihenfolge, mit | dazwischen; eine Stelle darf leer sein.",
    ),
    "unit_idle": (
        "die Einheit „{found}“ wird nicht gebraucht: Das ist keine Frage nach einer Zahl",
        "Löschen Sie sie, oder schreiben Sie die Antwort als Zahl.",
    ),
    "unit_twice": (
        "die Antwort „{found}“ hat eine andere Einheit als die Spalte für Einheiten, „{other}“",
        "Behalten Sie eine der beiden.",
    ),
    # --- scores
    "people_unclear": (
        "{name} ist eine Liste aller Benutzer eines Systems und sagt nicht, wer davon zur Klasse gehört",
        "Schicken Sie eine Liste nur mit der Klasse, oder sagen Sie, dass es alle sind.",
    ),
    "people_left": (
        "Personen mit „{found}“ wurden weggelassen: {size}",
        "Es ist nichts zu tun, wenn sie nicht zur Klasse gehören.",
    ),
    "role_unknown": (
        "„{found}“ ist eine Rolle, die ich nicht kenne",
        "Schreiben Sie student, oder löschen Sie die Zeile.",
    ),
    "name_two_ways": (
        "der Name „{found}“ und die Namen „{first}“ in den anderen Spalten sind verschieden",
        "Gleichen Sie sie an, oder behalten Sie nur einen.",
    ),
    "name_half": (
        "nur „{found}“ steht da, der andere Teil des Namens fehlt",
        "Schreiben Sie ihn, oder löschen Sie die Zeile.",
    ),
    "name_order": (
        "in „{found}“ ist nicht klar, was der Vorname ist",
        "Schreiben Sie den Nachnamen, ein Komma und den Vornamen.",
    ),
    "name_unlikely": (
        "„{found}“ sieht nicht wie ein Name aus",
        "Verbessern Sie es, oder löschen Sie die Zeile.",
    ),
    "row_total": (
        "„{found}“ sieht wie eine Summe aus, darum wurde die Zeile weggelassen",
        "Löschen Sie die Zeile, wenn es eine ist.",
    ),
    "list_no_names": (
        "{name} ist keine Klassenliste: „{found}“ ist kein Name",
        "Schicken Sie eine Liste mit einem Namen je Zeile.",
    ),
    "cell_became_time": (
        "„{found}“ ist hier eine Uhrzeit; ein Tabellenprogramm macht eine aus dem Verhältnis {first}",
        "Sagen Sie, was gemeint ist, oder formatieren Sie die Zelle als Text und schreiben Sie es noch einmal.",
    ),
    "total_two_ways": (
        "„{found}“ kann die Summe der Punkte sein oder die Höchstzahl",
        "Sagen Sie, was es ist.",
    ),
    "column_total": (
        "diese Spalte zählt die Punkte zusammen und wurde darum nicht gelesen",
        "Es ist nichts zu tun.",
    ),
    "score_unread": (
        "„{found}“ ist kein Ergebnis",
        "Schreiben Sie eine Zahl, zum Beispiel 17, 17,5 oder 17/20.",
    ),
    "score_range": (
        "„{found}“ liegt nicht zwischen 0 und {limit}",
        "Verbessern Sie das Ergebnis oder die höchste Punktzahl.",
    ),
    "score_maximum": (
        "es ist nicht gesagt, von wie vielen Punkten „{found}“ ist",
        "Ergänzen Sie eine Spalte „von“, oder schreiben Sie 17/20.",
    ),
    # --- calendars
    "event_zone": (
        "die Zeitzone „{found}“ ist nicht bekannt",
        "Wählen Sie im Kalenderprogramm eine Zone nach ihrer Stadt, zum Beispiel Europe/Berlin.",
    ),
    "event_rule": (
        "die Regel „{found}“ wiederholt sich öfter, als ein Unterrichtsplan kann",
        "Lassen Sie den Termin täglich, wöchentlich, monatlich oder jährlich wiederkehren.",
    ),
    "event_broken": (
        "dieser Termin ist nicht lesbar ({found})",
        "Öffnen Sie ihn im Kalenderprogramm und speichern Sie ihn noch einmal.",
    ),
    "event_untitled": (
        "dieser Termin hat keinen Titel",
        "Schreiben Sie das Thema in den Titel, oder löschen Sie den Termin.",
    ),
    "event_old": (
        "dieser Termin wiederholt sich seit {found}",
        "Tragen Sie ihn neu ein, mit Beginn in diesem Schuljahr.",
    ),
    "event_span": (
        "„{found}“ füllt {size} Tage und sagt nicht, was es ist",
        "Beginnen Sie den Titel mit „Ferien:“, wenn es welche sind, oder tragen Sie die Stunden einzeln ein.",
    ),
    "events_outside": (
        "{size} Termine liegen mehr als {limit} Tage von heute und wurden weggelassen",
        "Es ist nichts zu tun, wenn Sie dieses Schuljahr meinten.",
    ),
    "events_many": (
        "{name} enthält mehr als {limit} Termine",
        "Exportieren Sie nur eine Klasse und ein Schuljahr.",
    ),
    "rows_none_calendar": (
        "{name} ist ein Kalender ohne einen Termin",
        "Exportieren Sie den Kalender der Klasse und schicken Sie den.",
    ),
    "events_same_title": (
        "{size} Stunden heißen alle „{found}“, also zählen sie als ein Thema",
        "Wenn jede Stunde ein eigenes Thema hat, schreiben Sie es in den Titel jedes Termins.",
    ),
    # --- notes for any sheet
    "columns_unread": (
        "nicht gelesen und nicht behalten: {found}{hint}",
        "Es ist nichts zu tun, wenn Sie das so meinten.",
    ),
    "sheets_more": (
        "nur das Blatt „{found}“ wurde gelesen; die Datei hat {size} weitere",
        "Schicken Sie die anderen als eigene Dateien.",
    ),
    "sheets_hidden": (
        "{name} hat ausgeblendete Blätter, die nicht gelesen wurden: {size}",
        "Blenden Sie sie ein und schicken Sie die Datei noch einmal, wenn sie gemeint sind.",
    ),
    "heading_assumed": (
        "„{found}“ in der ersten Zeile wurde als Name gelesen, nicht als Überschrift",
        "Wenn es eine Überschrift ist, schreiben Sie dort „Name“.",
    ),
    "lesson_in_holiday": (
        "Stunden in den Ferien „{other}“: {size}, die erste ist „{found}“",
        "Verlegen oder löschen Sie sie, wenn sie nicht stattfinden.",
    ),
    "quiz_in_holiday": (
        "Tests in den Ferien „{other}“: {size}, der erste ist „{found}“",
        "Verlegen oder löschen Sie sie, wenn sie nicht stattfinden.",
    ),
    "lesson_off_weekday": (
        "Stunden an Wochentagen ohne Schule: {size}, die erste ist „{found}“ an einem {weekday}",
        "Prüfen Sie das Datum; es gilt, wie es da steht.",
    ),
    "quiz_off_weekday": (
        "Tests an Wochentagen ohne Schule: {size}, der erste ist „{found}“ an einem {weekday}",
        "Prüfen Sie das Datum; es gilt, wie es da steht.",
    ),
    "dates_mixed": (
        "in dieser Spalte stehen echte Daten und Texte wie „{found}“ gemischt; ein Tabellenprogramm, das auf ein "
        "anderes Land eingestellt ist, kann bei den echten Tag und Monat vertauscht haben",
        "Vergleichen Sie zwei oder drei echte Daten mit Ihrem Plan.",
    ),
}

KEYS: Mapping[str, str] = {
    "empty": "Die Antwort ist leer. Schreiben Sie die richtige Antwort.",
    "tolerance_idle": "Nur eine Zahl hat eine Toleranz. Lassen Sie die Zelle leer.",
    "alternatives_idle": "Eine Auswahl hat eine richtige Antwort. Lassen Sie weitere Antworten leer.",
    "options": "Eine Auswahl braucht 1 bis {most} falsche Antworten; es sind {n}. Drei sind üblich.",
    "options_same": "Die Antworten {first} und {second} sind gleich. Ändern Sie eine.",
    "option_long": "Die Antwort {option} ist länger als {most} Zeichen. Kürzen Sie sie.",
    "unit_two_ways": "Die Einheit {unit} lässt sich auf zwei Arten lesen. Setzen Sie Klammern, etwa J/(kg K).",
    "unit_unknown": "Die Einheit {unit} kenne ich nicht. Nehmen Sie ein übliches Zeichen, etwa m/s².",
    "number": "{found} ist keine Zahl. Schreiben Sie sie in Ziffern, etwa 3,5 oder 3,5 m/s.",
    "number_two_ways": "{found} kann {first} oder {second} heißen. Schreiben Sie eines davon.",
    "units_differ": "Die Antwort steht in {own}, die Spalte für Einheiten sagt {unit}. Machen Sie beide gleich.",
    "tolerance": "Die Toleranz {found} geht nicht. Schreiben Sie einen Betrag wie 0,05 oder einen Anteil wie 5 %.",
    "tolerance_unread": "„{found}“ ist keine Toleranz. Schreiben Sie einen Betrag wie 0,05 oder einen Anteil wie 5 %.",
    "text_long": "{found} ist zu lang, um es zweimal gleich zu tippen. Fragen Sie nach einem oder zwei Wörtern.",
    "text_both": "{found} steht als richtige und als falsche Antwort da. Streichen Sie eine davon.",
    "error_right": "{found} steht als typischer Fehler da, gälte aber wie {answer} als richtig. Ändern Sie eines.",
    "formula": "Die Formel {found} lässt sich nicht verwenden: {why}.",
}

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    **{f"file.{code}": what for code, (what, _todo) in FILE.items()},
    **{f"file.{code}.todo": todo for code, (_what, todo) in FILE.items()},
    **{f"key.{code}": sentence for code, sentence in KEYS.items()},
    # where
    "file.place.row": "Zeile {row}",
    "file.place.event": "Termin {row}",
    "file.place.column": "Spalte „{heading}“ ({column})",
    "file.place.bare": "Spalte {column}",
    "file.place.sheet": "Zeile {row}, Spalte „{heading}“",
    "file.picture": (
        "Zeile {row}: Das Bild „{picture}“ kann nicht mit einer Tabelle kommen. Schicken Sie es mir als Foto mit der "
        "Frage als Text dazu."
    ),
    # what a button says where something is doubtful
    "file.option.hidden.leave": "Ohne das Ausgeblendete",
    "file.option.hidden.read": "Mit dem Ausgeblendeten",
    "file.option.keys.place": "Sie nennen die Möglichkeit",
    "file.option.keys.text": "Sie sind die Antwort",
    "file.option.people.students": "Alle gehören zur Klasse",
    "file.option.tests.quiz": "Ein Test",
    "file.option.tests.lesson": "Eine Stunde",
    "file.option.times.ratio": "Ein Verhältnis",
    "file.option.times.time": "Eine Uhrzeit",
    "file.option.total.sum": "Die Summe",
    "file.option.total.maximum": "Die Höchstzahl",
    # what the sentences are filled in with
    "file.the_file": "Die Datei",
    "file.day": "Tag",
    "file.month": "Monat",
    "file.year": "Jahr",
    "file.hint.meant": " (meinten Sie „{word}“?)",
    "file.hint.meant_with": " (meinten Sie „{word}“ mit „{heading}“?)",
    "file.hint.close": " ({word} kommt dem nahe)",
    "file.hint.day_number": " (als Tageszahl eines Tabellenprogramms wäre es {day})",
    "file.rows_more": {
        "one": "; ebenso die Tage in {n} weiterer Zeile",
        "other": "; ebenso die Tage in {n} weiteren Zeilen",
    },
    "file.same_rows": {
        "one": "; ebenso {n} weitere Zeile",
        "other": "; ebenso {n} weitere Zeilen",
    },
    "file.kind.workbook": "eine Arbeitsmappe",
    "file.kind.calendar": "ein Kalender",
    "file.kind.xls": "ein altes binäres Dokument (.xls)",
    "file.kind.xlsb": "eine binäre Arbeitsmappe (.xlsb)",
    "file.kind.docx": "ein Textdokument (.docx)",
    "file.kind.pptx": "eine Präsentation (.pptx)",
    "file.kind.zip": "ein Archiv (.zip)",
    "file.kind.own": "ein Dokument in einem eigenen Format (Numbers oder Pages)",
    "file.kind.opendocument": "eine OpenDocument-Datei, aber keine Tabelle",
    "file.kind.web": "eine Webseite oder XML-Datei, wie immer sie heißt",
    "file.other.answer": "die Antwort",
    "file.wanted.questions": "Fragen",
    "file.wanted.list": "eine Klassenliste",
    "file.wanted.scores": "Testergebnisse",
    "file.wanted.question": "die Frage",
    "file.wanted.answer": "die Antwort",
    "file.wanted.the_topic": "das Thema",
    "file.wanted.student": "den Namen",
    "file.wanted.name": "einen Namen",
    "file.wanted.topic": "ein Thema",
    "file.wanted.date": "ein Datum",
    "file.wanted.first_day": "den ersten Tag",
    "file.wanted.quiz": "den Namen des Tests",
}
