"""Numbers for exact surfaces, so that every triangle of a solid can say what it lies on."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["SurfaceNumbers"]


@dataclass(slots=True)
class SurfaceNumbers:
    """Hands out a new number for every surface and remembers its name.

    A book kept while a solid is being assembled; the finished solid holds a frozen copy of the names.
    """

    names: list[str] = field(default_factory=list)

    def new(self, name: str) -> int:
        """Return a number that no other surface has."""
        self.names.append(name)
        return len(self.names) - 1
