"""Windows on the body: what is seen for a region in a position, and centimetres to pixels."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from rondel.drawing.figures import bodies, regions
from rondel.drawing.figures.curves import Array, Contour, pieces_of, sampled
from rondel.drawing.figures.looks import BodyShape, breadth_at
from rondel.drawing.figures.regions import Ground
from rondel.model.words import Position, Side

BOX = 400.0  # every figure is drawn in a square of this many pixels
HAND_CM = 18.7  # ANSUR II 2012, mean of men and women
LAIN_ON = 0.82  # breadth of the half lain on, against the upper half
HAND_UNITS = 90.0  # the same hand in a sprite's own units


class Facing(StrEnum):
    """Which face of the body, or which close-up, a view shows."""

    BACK = "back"
    FRONT = "front"
    LYING = "lying"  # on the side, seen from behind
    SOLES = "soles"
    PALMS = "palms"


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One window: `centre` in centimetres of the body's frame stands in the middle of the box.

    `zooms_on_side` shifts the window to the worked side; `hands_down` has the giver at the top
    of the picture, so that the hands point down; `hand_share` shrinks the hands in close-ups;
    `is_prone` turns a close-up of soles or palms to how they lie when the face is down.
    """

    id: str
    facing: Facing
    centre: tuple[float, float]
    px_per_cm: float
    grounds: tuple[tuple[str, Ground], ...]
    hands_down: bool = False
    zooms_on_side: bool = False
    hand_share: float = 1.0
    is_prone: bool = False
    says: str = ""

    @property
    def hand_scale(self) -> float:
        return self.px_per_cm * HAND_CM / HAND_UNITS * self.hand_share

    def ground(self, region: str) -> Ground:
        return dict(self.grounds)[region]

    def sign(self, side: Side) -> float:
        """Return +1 where the receiver's `side` is at the picture's right, else -1.

        From behind the receiver's right is at the right; face to face it is at the left. Both
        and centre are drawn from the right side and mirrored. Lying, the worked side is on top.
        """
        if self.facing is Facing.BACK or self.is_prone:
            return -1.0 if side is Side.LEFT else 1.0
        if self.facing is Facing.LYING:
            return 1.0
        return -1.0 if side is Side.RIGHT else 1.0

    def head_at(self, side: Side) -> float:
        """Return where the head is when lying on the side: -1 left, +1 right in the picture.

        With the right side on top and seen from behind, the head is at the left.
        """
        return -1.0 if side is Side.RIGHT else 1.0

    def to_px(self, points_cm: Array, side: Side, shape: BodyShape) -> Array:
        """Return points of the body's frame in pixels of the box, shape (n, 2)."""
        points = np.asarray(points_cm, dtype=np.float64)
        x, y = points[:, 0], points[:, 1]
        if self.facing not in (Facing.SOLES, Facing.PALMS):
            x = x * breadth_at(shape, y)
        if self.facing is Facing.SOLES and self.is_prone:
            y = -y
        k, half = self.px_per_cm, BOX / 2
        if self.facing is Facing.LYING:
            flip = -self.head_at(side)
            return np.stack(
                [half + flip * k * (y - self.centre[1]), half - k * (x - self.centre[0])], axis=1
            )
        at_x = self.centre[0] * (self.sign(side) if self.zooms_on_side else 1.0)
        return np.stack([half + k * (x - at_x), half + k * (y - self.centre[1])], axis=1)

    def place_px(self, points_cm: Array, side: Side, shape: BodyShape) -> Array:
        """Return places on the skin in pixels; lying, the half that is lain on is narrower."""
        if self.facing is not Facing.LYING:
            return self.to_px(points_cm, side, shape)
        narrow = np.where((points_cm[:, 0] < 0) & (points_cm[:, 1] > 0), LAIN_ON, 1.0)
        return self.to_px(points_cm * np.stack([narrow, np.ones_like(narrow)], axis=1), side, shape)

    def contour_px(self, contour: Contour, side: Side, shape: BodyShape) -> Array:
        """Return a contour's cubic pieces in pixels, shape (pieces, 4, 2)."""
        pieces = pieces_of(contour)
        return self.to_px(pieces.reshape(-1, 2), side, shape).reshape(-1, 4, 2)

    def outlines(self, side: Side, shape: BodyShape) -> tuple[Array, ...]:
        """Return the polygons, in pixels, that together cover the body in this view."""
        return tuple(
            sampled(self.contour_px(contour, side, shape)) for contour in _BODIES[self.facing]
        )


def _closed(run: tuple[tuple[float, float], ...]) -> Contour:
    return ((*run, run[0]),)


_BODIES: dict[Facing, tuple[Contour, ...]] = {
    Facing.BACK: (bodies.BACK_BODY, bodies.HEAD_BACK),
    Facing.FRONT: (bodies.FRONT_BODY, bodies.HEAD_FRONT, bodies.HAIR_FRONT),
    Facing.LYING: (bodies.SIDE_BODY, bodies.HEAD_BACK, _closed(bodies.SIDE_ARM)),
    Facing.SOLES: (_closed(bodies.SOLE), _closed(tuple((-x, y) for x, y in bodies.SOLE))),
    Facing.PALMS: (_closed(bodies.PALM), _closed(tuple((-x, y) for x, y in bodies.PALM))),
}

_B, _F = tuple(regions.BACK.items()), tuple(regions.FRONT.items())
_SOLES, _PALMS = tuple(regions.SOLES.items()), tuple(regions.PALMS.items())
_VIEWS = {
    view.id: view
    for view in (
        View(id="back", facing=Facing.BACK, centre=(0, 26.6), px_per_cm=3.5, grounds=_B,
             says="the body from behind"),
        View(id="upper_back", facing=Facing.BACK, centre=(0, 8.6), px_per_cm=5.5, grounds=_B,
             says="the shoulders from behind"),
        View(id="lower_back", facing=Facing.BACK, centre=(0, 55.0), px_per_cm=5.5, grounds=_B,
             says="the lower body from behind"),
        View(id="nape", facing=Facing.BACK, centre=(0, -4.6), px_per_cm=8.4, grounds=_B,
             hand_share=0.78, says="the head and neck from behind"),
        View(id="nape_lying", facing=Facing.BACK, centre=(0, -4.6), px_per_cm=8.4, grounds=_B,
             hand_share=0.78, says="the head and neck from behind, as the hands feel it below"),
        View(id="upper_arms_back", facing=Facing.BACK, centre=(17.0, 20.0), px_per_cm=5.8,
             grounds=_B, zooms_on_side=True, says="the upper arm from behind"),
        View(id="forearms_back", facing=Facing.BACK, centre=(24.0, 52.0), px_per_cm=5.8,
             grounds=_B, zooms_on_side=True, says="the forearm from behind"),
        View(id="thighs_back", facing=Facing.BACK, centre=(0, 84.0), px_per_cm=5.8, grounds=_B,
             says="the thighs from behind"),
        View(id="calves_back", facing=Facing.BACK, centre=(0, 124.6), px_per_cm=5.4, grounds=_B,
             says="the lower legs from behind"),
        View(id="front", facing=Facing.FRONT, centre=(0, 26.6), px_per_cm=3.5, grounds=_F,
             says="the body from the front"),
        View(id="upper_front", facing=Facing.FRONT, centre=(0, 6.0), px_per_cm=5.3, grounds=_F,
             hands_down=True, says="the shoulders and chest from the front"),
        View(id="face", facing=Facing.FRONT, centre=(0, -14.6), px_per_cm=7.6, grounds=_F,
             hands_down=True, hand_share=0.74, says="the head from above"),
        View(id="upper_arms_front", facing=Facing.FRONT, centre=(17.0, 20.0), px_per_cm=5.8,
             grounds=_F, zooms_on_side=True, says="the upper arm from the front"),
        View(id="forearms_front", facing=Facing.FRONT, centre=(24.0, 52.0), px_per_cm=5.8,
             grounds=_F, zooms_on_side=True, says="the forearm from the front"),
        View(id="thighs_front", facing=Facing.FRONT, centre=(0, 84.0), px_per_cm=5.8, grounds=_F,
             says="the thighs from the front"),
        View(id="calves_front", facing=Facing.FRONT, centre=(0, 124.6), px_per_cm=5.4, grounds=_F,
             says="the lower legs from the front"),
        View(id="side", facing=Facing.LYING, centre=(1.0, 22.6), px_per_cm=3.8, grounds=_B,
             hand_share=1.0, says="the body lying on its side, from behind"),
        View(id="side_upper", facing=Facing.LYING, centre=(2.0, 10.0), px_per_cm=4.8, grounds=_B,
             says="head and shoulders lying on the side, from behind"),
        View(id="side_lower", facing=Facing.LYING, centre=(1.0, 58.0), px_per_cm=4.2, grounds=_B,
             says="waist and hips lying on the side, from behind"),
        View(id="soles", facing=Facing.SOLES, centre=(0, 0.6), px_per_cm=12.0,
             grounds=_SOLES, hand_share=0.6, says="the soles of the feet"),
        View(id="soles_prone", facing=Facing.SOLES, centre=(0, -0.6), px_per_cm=12.0,
             grounds=_SOLES, hand_share=0.6, is_prone=True, says="the soles of the feet"),
        View(id="palms", facing=Facing.PALMS, centre=(0, 1.0), px_per_cm=12.0,
             grounds=_PALMS, hand_share=0.6, says="the hands, palms up"),
        View(id="palms_prone", facing=Facing.PALMS, centre=(0, 1.0), px_per_cm=12.0,
             grounds=_PALMS, hand_share=0.6, is_prone=True, says="the hands, palms up"),
    )
}  # fmt: skip

_UPPER = frozenset({"shoulders", "between_blades", "blades"})
_LOWER = frozenset({"lower_back", "sacrum", "hips"})
_ARMS = frozenset({"upper_arms", "forearms"})
_FACE_UP = frozenset({"face", "chest", "belly"})


def _trunk_view(region: str, position: Position, side: Side) -> str:
    if position is Position.SUPINE:
        return {"shoulders": "upper_front"}.get(region, "front")
    lying = position is Position.SIDE
    if region in _UPPER:
        return "side_upper" if lying else "upper_back"
    if region in _LOWER:
        return "side_lower" if lying else "lower_back"
    return "side" if lying else "back"


def _limb_view(region: str, position: Position, side: Side) -> str:
    face = "front" if position in (Position.SUPINE, Position.SEATED) else "back"
    if region in _ARMS:
        return f"{region}_{face}" if side.is_one_sided else face
    if region in ("thighs", "calves"):
        return f"{region}_{face}"
    name = "soles" if region == "feet" else "palms"
    return f"{name}_prone" if position is Position.PRONE else name


def view_of(region: str, position: Position, side: Side) -> View:
    """Return the view in which `region` is best seen; an unknown region is shown on the back."""
    if region in _FACE_UP:
        name = {"face": "face", "chest": "upper_front"}.get(region, "front")
    elif region == "scalp":
        name = {Position.SUPINE: "face", Position.SIDE: "side_upper"}.get(position, "nape")
    elif region == "neck":
        name = {Position.SUPINE: "nape_lying", Position.SIDE: "side_upper"}.get(position, "nape")
    elif region in _ARMS or region in ("thighs", "calves", "feet", "hands"):
        name = _limb_view(region, position, side)
    else:
        name = _trunk_view(region, position, side)
    view = _VIEWS[name]
    return view if region in dict(view.grounds) else _VIEWS["back"]


def ground_of(view: View, region: str) -> Ground:
    """Return where `region` lies in `view`; a region nobody drew is worked as the whole back."""
    grounds = dict(view.grounds)
    return grounds.get(region) or grounds["back"]


def all_views() -> tuple[View, ...]:
    """Return every view there is."""
    return tuple(_VIEWS.values())
