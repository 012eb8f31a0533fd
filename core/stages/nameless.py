"""Stages without what their parts do not hang on."""

from functools import lru_cache
from typing import Any, TypeVar, cast

from core.model.stages.stage import StageBase

S = TypeVar("S", bound=StageBase)
_PLACE = (("id", "stage"), ("name", "Stage"), ("direction", "both"), ("in_path", True))


def nameless(stage: S, *read: str) -> S:
    """A stage without name and place, and without the readings of these fields, so that stages that are built
    alike are designed once.
    """
    return cast(S, _nameless(stage, read))


@lru_cache(maxsize=256)
def _nameless(stage: StageBase, read: tuple[str, ...]) -> StageBase:
    changes: tuple[tuple[str, Any], ...] = (*_PLACE, *((field, None) for field in read))
    for field, value in changes:
        stage = stage.edited((field,), value)
    return stage
