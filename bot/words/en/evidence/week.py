"""English: the weekly completion report, as text and as picture."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "week.title": "*{title} · week {week}* ({span})",
    "week.title_plain": "{title} · week {week}",
    "week.as_of": "{span} · as of {moment}",
    "week.nothing_asked": "Nobody was asked anything in this week.",
    "week.answered": (
        "{once} of {students} answered at least once; {answered} of {asked} checks answered, {on_time} on time."
    ),
    "week.extra": {"one": "{n} more answer was asked for.", "other": "{n} more answers were asked for."},
    "week.waiting": {
        "one": "{n} check still has time to be answered.",
        "other": "{n} checks still have time to be answered.",
    },
    "week.trend.more": "More than the week before ({before}).",
    "week.trend.fewer": "Fewer than the week before ({before}).",
    "week.trend.alike": "About as in the week before ({before}).",
    "week.right": "Right: {figure}.",
    "week.silent": "Silent for a week: {names}.",
    "week.slower": "Slower than usual: {names}.",
    "week.low": "Surely below half for {quiz}: {names}.",
    "week.nobody": "Nobody stands out.",
    "week.below": "Topics below half for {quiz}, as things stand: {topics}.",
    "week.below_none": "No topic stands below half for {quiz}.",
    "week.below_none_yet": (
        "No topic with enough answers stands below half for {quiz}; too early to tell for {topics}."
    ),
    "week.below_unknown": (
        "Too early to tell how {quiz} will go: no topic of it has {enough} answers yet. Remind the class of the "
        "evening questions."
    ),
    "week.no_quiz": "No quiz is planned.",
    "week.below_topic": "*{topic}* ({figure})",
    "week.perhaps": "perhaps {topic}",
    "week.good": "A good word, in private: {names}.",
    "week.good.back": "{name} (back after a silent week)",
    "week.good.more": "{name} (answers more than usual)",
    "week.good.better": "{name} (more right than expected)",
    "week.good.all": {
        "one": "{n} student answered everything on time.",
        "other": "{n} students answered everything on time.",
    },
    "week.paused": "Not asked at present: {names}.",
    "week.the_quiz": "the quiz on {day}",
    "week.the_exam": "the exam on {day}",
    # picture
    "week.picture.checks": "{answered} of {asked} checks answered",
    "week.picture.students": "by {once} of {students} students",
    "week.picture.on_time": "{n} on time",
    "week.picture.late": "{n} late",
    "week.picture.waiting": "{n} still open",
    "week.picture.unanswered": "{n} unanswered",
    "week.picture.talk_to": "Talk to",
    "week.picture.also": "also: {names}",
    "week.picture.silent": {"one": "no answer to {n} check", "other": "no answer to {n} checks"},
    "week.picture.since": "no answer since {day}",
    "week.picture.slower": "slower: {now} instead of {usual}",
    "week.picture.low": "predicted about {value}, surely low",
    "week.picture.teach": "Teach again before {quiz}",
    "week.picture.teach_later": "No quiz planned: retention now",
    "week.picture.teach_none": "No topic below half for {quiz}",
    "week.picture.teach_unknown": "Too early to tell for {quiz}",
    "week.picture.unknown_do": "Remind the class: a topic needs {enough} answers.",
    "week.picture.higher": {"one": "{n} more topic stands higher", "other": "{n} more topics stand higher"},
    "week.picture.unknown": "Too few answers to tell.",
    "week.picture.good": "A good word, in private",
    "week.picture.nobody_good": "Nobody stands out this week.",
    "week.picture.all": {
        "one": "{n} student: everything on time",
        "other": "{n} students: everything on time",
    },
    "week.picture.good.back": "back after a silent week",
    "week.picture.good.more": "answers more than usual",
    "week.picture.good.better": "more right than expected",
    "week.picture.good.all_on_time": "everything on time",
    "week.picture.file": "{slug}-{year}-W{week}.png",
    "week.hours": {"one": "{n} hour", "other": "{n} hours"},
    "week.minutes": {"one": "{n} minute", "other": "{n} minutes"},
    # the class channel
    "channel.week": "*{title} · week {week}*: {who}",
    "channel.some": "{once} of {students} answered at least once{part}.",
    "channel.nearly_all": "all or nearly all of {students} answered at least once{part}.",
    "channel.part": "; about {share} of the questions are answered",
    "channel.part_nearly_all": "; nearly all questions are answered",
    "channel.too_few": (
        "This class has under {fewest} students with answers this week, so nothing is shown to the class: a "
        "figure could be traced to one person."
    ),
}
