"""What every profile has: a name, and for each value where it comes from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field, field_validator, model_validator

from wingpath.core.errors import Problem, SpecError
from wingpath.model.spec_base import ONE_LINE, PROFILE_NAME, Number, SpecTable, unit_of

__all__ = ["SOURCE_KINDS", "Profile", "ValueSource"]

SOURCE_KINDS = ("measured", "published", "judgement", "memory")
"""How a value came about, from the firmest to the weakest."""


class ValueSource(SpecTable):
    """Where one value comes from and how far it may be off."""

    kind: Literal["measured", "published", "judgement", "memory"] = Field(description="how it came about")
    note: str = Field(min_length=1, max_length=500, description="document, year, place; or the reasoning")
    low: Number | None = Field(default=None, description="lowest value that is plausible")
    high: Number | None = Field(default=None, description="highest value that is plausible")


class Profile(SpecTable):
    """What every profile has."""

    name: str = Field(min_length=1, max_length=60, pattern=PROFILE_NAME, description="its name")
    title: str = Field(
        min_length=1, max_length=120, pattern=ONE_LINE, description="one line that says what it is"
    )
    source: str = Field(min_length=1, max_length=1000, description="where it comes from, as a whole")
    sources: tuple[tuple[str, ValueSource], ...] = Field(
        default=(), max_length=60, description="where each value comes from, by key"
    )

    @field_validator("sources", mode="before")
    @classmethod
    def _sources_as_rows(cls, value: Any) -> Any:
        return tuple(value.items()) if isinstance(value, Mapping) else value

    @model_validator(mode="after")
    def _values_agree(self) -> Profile:
        problems = [*self._source_problems(), *self._own_problems()]
        if problems:
            raise SpecError("profile", problems)
        return self

    def _own_problems(self) -> Iterable[Problem]:
        """Return contradictions between the keys of this kind of profile."""
        return ()

    def _source_problems(self) -> Iterable[Problem]:
        fields = type(self).model_fields
        for key, source in self.sources:
            if key not in fields:
                yield Problem(f"sources.{key}", "an unknown key", "keys of this profile")
                continue
            value, low, high = getattr(self, key), source.low, source.high
            if isinstance(value, float) and (
                (low is not None and value < low) or (high is not None and value > high)
            ):
                yield Problem(
                    f"sources.{key} and {key}",
                    f"{value:g} {unit_of(key)}".strip(),
                    f"a value inside its own range, {low} to {high}",
                )

    def source_of(self, key: str) -> ValueSource | None:
        """Return where the value of `key` comes from; None when the profile does not say."""
        return dict(self.sources).get(key)
