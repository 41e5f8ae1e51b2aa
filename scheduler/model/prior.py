"""The built-in prior: what is assumed of a class of which nothing is known yet."""

from __future__ import annotations

from scheduler.model.history import SLIP
from scheduler.model.laws import LAWS
from scheduler.values import LawParameters, Parameters


def built_in_prior() -> Parameters:
    """Return the prior of a first class: every law alike, wide spreads (see MODEL.md)."""
    laws = {
        law.name: LawParameters(law.mean, law.sd, *law.trait_sd, 1.0 / len(LAWS)) for law in LAWS.values()
    }
    return Parameters(laws, slip=SLIP, response_mean=0.75, response_size=4.0, question_sd=0.5)


PRIOR = built_in_prior()
