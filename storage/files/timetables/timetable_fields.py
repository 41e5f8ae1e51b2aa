"""The columns of a timetable sheet and every heading that is understood for them."""

from __future__ import annotations

from storage.files.headings import Field

FIELDS = (
    Field(
        "topic",
        (
            "topic", "title", "subject", "lesson topic", "name", "content", "unit", "theme", "what",
            "thema", "themen", "titel", "inhalt", "bezeichnung", "stundenthema",
            "sujet", "theme du cours", "titre", "contenu", "intitule", "lecon",
            "tema", "titulo", "contenido", "asunto", "argomento", "onderwerp",
        ),
        required=True,
    ),
    Field(
        "date",
        (
            "date", "day", "lesson date", "on", "when", "first day", "start date", "from date",
            "datum", "tag", "termin", "wann", "startdatum", "erster tag",
            "jour", "date de debut", "le", "premier jour",
            "fecha", "dia", "fecha de inicio", "data", "giorno", "dag",
        ),
        required=True,
    ),
    Field(
        "kind",
        (
            "kind", "type", "entry", "sort", "category", "event",
            "art", "typ", "kategorie", "eintrag", "genre", "categorie", "tipo", "categoria", "soort",
        ),
    ),
    Field(
        "start",
        (
            "start", "time", "start time", "begin", "begins", "from", "starts", "at",
            "zeit", "uhrzeit", "beginn", "von", "anfang", "startzeit",
            "heure", "debut", "heure de debut", "de", "hora", "inicio", "hora de inicio", "desde", "ora", "tijd",
        ),
    ),
    Field(
        "end",
        (
            "end", "until", "to", "ends", "end time", "till", "finish",
            "ende", "bis", "endzeit", "fin", "heure de fin", "a", "jusqu a", "hasta", "hora de fin", "fine", "einde",
        ),
    ),
    Field(
        "last day",
        (
            "last day", "end date", "to date", "until date", "enddatum", "letzter tag", "bis datum",
            "date de fin", "dernier jour", "fecha de fin", "fecha final", "ultimo dia",
        ),
    ),
    Field(
        "homework",
        (
            "homework", "home work", "hw", "tonight", "hausaufgabe", "hausaufgaben", "ha",
            "devoirs", "devoir", "travail a la maison", "deberes", "tarea", "tareas", "compiti", "huiswerk",
        ),
    ),
    Field(
        "topics",
        (
            "topics", "covers", "topics covered", "quiz topics", "about", "scope", "covered",
            "umfasst", "stoff", "prufungsstoff", "sujets", "programme", "temas", "abarca", "incluye",
        ),
    ),
)  # fmt: skip
