"""A teacher who types and presses anything, through the real loop: always answered, never an exception."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.chat.port import ButtonPressed, TextSaid
from bot.talk import teacher
from storage.base.database import connect
from tests.properties.test_teacher_talk import arguments, texts
from tests.teaching import School

acts = st.one_of(
    texts.map(TextSaid),
    st.text(max_size=300).map(TextSaid),
    st.builds(
        lambda verb, args: ButtonPressed(":".join(["teacher", verb, *args])),
        st.sampled_from(sorted(teacher.BUTTONS)),
        arguments.map(lambda rest: ["1", *rest]),
    ),
)


@settings(deadline=None, max_examples=6, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(acts, min_size=5, max_size=15))
def test_a_teacher_who_does_anything_is_always_answered(done: list[TextSaid | ButtonPressed]):
    db = connect("sqlite://")
    try:
        school = School(db)
        okafor = school.teacher()
        okafor.says("New topic: Density\nUnit? / kg/m³\nquiz: 11 Dec\nhomework: p. 1")
        other = school.teacher("brown", with_class="9A Chemistry")
        for content in done:
            before = school.clock.at
            said = school.happen(okafor.user, content)
            worked = school.work()
            assert said or worked, content
            assert all(where == "@okafor" for where, _ in [*said, *worked])
            assert school.clock.at == before
        assert "9A Chemistry" in other.says("class")
    finally:
        db.close()
