"""The catalogue: every part kind by its id, found also by the names of the trade."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar, overload

from planner.errors import CatalogueError, UnknownPartKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from planner.catalogue.values import AccessGroup, PartKind

_T = TypeVar("_T")
_NOT_LETTERS = re.compile(r"[^a-z0-9]+")
_IN_BRACKETS = re.compile(r"\([^)]*\)")


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Catalogue(Mapping[str, "PartKind"]):
    """All part kinds, in the order of their families; frozen.

    `catalogue["rotor_arm"]` gives the kind, iteration gives the ids, `find` also takes a trade name.

    Attributes:
        cautions: family -> cautions of the family; also "general", for any work on a car.
        access_groups: name -> work behind the same access.
    """

    _kinds: Mapping[str, PartKind]
    _by_name: Mapping[str, tuple[str, ...]]
    cautions: Mapping[str, tuple[str, ...]]
    access_groups: Mapping[str, AccessGroup]

    @classmethod
    def of(
        cls,
        kinds: Sequence[PartKind],
        cautions: Mapping[str, tuple[str, ...]],
        access_groups: Mapping[str, AccessGroup],
    ) -> Catalogue:
        """The catalogue of these kinds.

        Raises:
            CatalogueError: two kinds have the same name.
        """
        return cls(
            {kind.id: kind for kind in kinds},
            _names(kinds),
            MappingProxyType(dict(cautions)),
            MappingProxyType(dict(access_groups)),
        )

    def __getitem__(self, kind_id: str) -> PartKind:
        """The kind with this id.

        Raises:
            UnknownPartKind: no such id; names the nearest ones.
        """
        try:
            return self._kinds[kind_id]
        except (KeyError, TypeError):
            raise UnknownPartKind("kind", self._wanted(kind_id), kind_id) from None

    def __contains__(self, kind_id: object) -> bool:
        return kind_id in self._kinds

    @overload
    def get(self, kind_id: str, /) -> PartKind | None: ...
    @overload
    def get(self, kind_id: str, /, default: PartKind | _T) -> PartKind | _T: ...
    def get(self, kind_id: str, /, default: _T | None = None) -> PartKind | _T | None:
        """The kind with this id, or the default where there is none."""
        return self[kind_id] if kind_id in self._kinds else default

    def __iter__(self) -> Iterator[str]:
        return iter(self._kinds)

    def __len__(self) -> int:
        return len(self._kinds)

    def __repr__(self) -> str:
        return f"<Catalogue of {len(self)} part kinds>"

    def find(self, name: str) -> PartKind:
        """The kind with this id, British, American or other name; case and punctuation don't matter.

        A name may also be given without the part that stands in brackets, if that leaves one kind.

        Raises:
            UnknownPartKind: no kind has the name, or several have; names the nearest or the several.
        """
        if isinstance(name, str) and name in self._kinds:
            return self._kinds[name]
        ids = self._by_name.get(_plain(name), ()) if isinstance(name, str) else ()
        if len(ids) == 1:
            return self._kinds[ids[0]]
        wanted = f"one of {', '.join(ids)}: several have this name" if ids else self._wanted(name)
        raise UnknownPartKind("kind", wanted, name)

    def families(self) -> tuple[str, ...]:
        """The families that hold a kind, in order."""
        return tuple(dict.fromkeys(kind.family for kind in self._kinds.values()))

    def of_family(self, family: str) -> tuple[PartKind, ...]:
        """The kinds of one family, in order; empty for a family that holds none."""
        return tuple(kind for kind in self._kinds.values() if kind.family == family)

    def _wanted(self, name: object) -> str:
        near = self._nearest(name) if isinstance(name, str) else ()
        hint = f"; near it: {', '.join(near)}" if near else ""
        return f"a part kind of the catalogue{hint}"

    def _nearest(self, name: str) -> tuple[str, ...]:
        plain = _plain(name)
        spoken = get_close_matches(plain, self._by_name, n=3, cutoff=0.6)
        words = [key for key in self._by_name if plain and re.search(rf"\b{re.escape(plain)}\b", key)]
        return tuple(dict.fromkeys(kind for key in (*words[:3], *spoken) for kind in self._by_name[key]))[:5]


def _names(kinds: Sequence[PartKind]) -> dict[str, tuple[str, ...]]:
    """Plain name -> ids; a full name belongs to one kind only, a shortened one may belong to several."""
    full: dict[str, str] = {}
    short: dict[str, list[str]] = {}
    for kind in kinds:
        for name in dict.fromkeys(map(_plain, (kind.id, kind.name_gb, kind.name_us, *kind.other_names))):
            if name in full:
                raise CatalogueError(f"{kind.id}: name", f"a name of its own ({full[name]} has it)", name)
            full[name] = kind.id
        for name in (kind.name_gb, kind.name_us):
            short.setdefault(_plain(_IN_BRACKETS.sub(" ", name)), []).append(kind.id)
    names = {name: tuple(dict.fromkeys(ids)) for name, ids in short.items()}
    return names | {name: (kind_id,) for name, kind_id in full.items()}


def _plain(name: str) -> str:
    return _NOT_LETTERS.sub(" ", name.lower()).strip()
