"""Ten scenes of work that goes again and again, as bodies that move by the laws of mechanics.

Nothing here is shared with the drawn takes of `tests/`: MuJoCo (Apache 2.0) moves the bodies and
draws them in perspective, with light and shadow; wood, cloth, dough and skin are photographs from
scikit-image (brick, grass, gravel, moon and coffee; see its `data/README.txt`), tinted. Metres,
seconds, kilograms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Targets = dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkScene:
    """`parts`: bodies, as MuJoCo's XML. `drive(wave, lift)`: where actuators should be, for a
    place from -1 to 1 forth and back and one a quarter of a cycle behind it. `joint`: the one in
    which cycles are counted. `period`: usual seconds of a cycle; `forth`: the share of it that
    forth takes. `camera`: distance, azimuth and elevation in degrees, height looked at."""

    name: str
    says: str
    parts: str
    drive: Callable[[float, float], Targets]
    joint: str
    period: float
    forth: float
    camera: tuple[float, float, float, float]
    floor: str = "brick"
    step: float = 0.004
    integrator: str = "implicitfast"
    more: str = ""


def hand(lean: float = 0.0, x: float = 0.0) -> str:
    """Return a hand with its forearm and sleeve, reaching in from the near side (-y)."""
    fingers = "".join(
        f'<geom type="capsule" size=".011" fromto="{x + d} .03 .03 {x + d} .1 .018" class="skin"/>'
        for d in (-0.036, -0.012, 0.012, 0.036)
    )
    far = x + lean
    return f"""
    <geom type="ellipsoid" size=".05 .055 .024" pos="{x} 0 .035" class="skin"/>{fingers}
    <geom type="capsule" size=".012" fromto="{x - 0.05} -.01 .03 {x - 0.075} .04 .022"
     class="skin"/>
    <geom type="capsule" size=".034" fromto="{x} -.06 .045 {far} -.3 .13" class="skin"/>
    <geom type="capsule" size=".05" fromto="{far} -.3 .13 {far * 1.8} -.62 .26" class="sleeve"/>"""


def tool(inside: str, *, axes: str = "xz", at: str = "0 0 0", name: str = "") -> str:
    """Return a body on sliding joints along `axes`; it is heavy enough to lie on what it works."""
    along = {"x": "1 0 0", "y": "0 1 0", "z": "0 0 1"}
    joints = "".join(
        f'<joint name="{name}{a}" type="slide" axis="{along[a]}" damping="12"/>' for a in axes
    )
    return f'<body name="tool{name}" pos="{at}">{joints}{inside}</body>'


def motors(*joints: str, strength: float = 1600) -> str:
    """Return an actuator for each of `joints`, of the same name."""
    rows = "".join(
        f'<position name="{j}" joint="{j}" kp="{strength}" kv="{strength / 22:.0f}"/>'
        for j in joints
    )
    return f"<actuator>{rows}</actuator>"


def crumbs(count: int, spread: float, high: float, look: str, size: float = 0.008) -> str:
    """Return small things that lie about and are pushed around."""
    dice = np.random.default_rng(count)
    rows = []
    for n in range(count):
        x, y = dice.uniform(-spread, spread, 2)
        rows.append(
            f'<body pos="{x:.3f} {y:.3f} {high + 0.02 * (n % 3):.3f}"><freejoint/>'
            f'<geom type="sphere" size="{size * dice.uniform(0.6, 1.3):.4f}" mass=".002"'
            f' material="{look}" friction=".6"/></body>'
        )
    return "".join(rows)


def box(size: str, at: str, look: str, more: str = "") -> str:
    return f'<geom type="box" size="{size}" pos="{at}" material="{look}" {more}/>'


def _saw() -> WorkScene:
    blade = box(".26 .002 .05", "0 0 0", "steel", 'contype="0" conaffinity="0"')
    grip = box(".05 .012 .045", ".3 0 .02", "wood", 'contype="0" conaffinity="0"')
    parts = box(".06 .3 .02", "-.08 .02 .02", "wood") + crumbs(24, 0.12, 0.05, "pale", 0.005)
    inside = blade + grip + hand(0.1, 0.3)
    return WorkScene(
        name="saw",
        says="sawing a board",
        parts=parts + tool(inside, axes="xz", at="0 .05 .07"),
        drive=lambda wave, lift: {"x": 0.11 * wave, "z": -0.008 * wave},
        joint="x",
        period=0.9,
        forth=0.45,
        camera=(1.05, 70, -32, 0.05),
        more=motors("x", "z"),
    )


def _planing() -> WorkScene:
    body = box(".09 .03 .025", "0 0 0", "wood") + box(".03 .02 .02", "-.05 0 .04", "wood")
    parts = box(".5 .07 .03", "0 0 .03", "pale") + crumbs(16, 0.15, 0.1, "wood", 0.009)
    return WorkScene(
        name="planing",
        says="planing a plank, the plane lifted on its way back",
        parts=parts + tool(body + hand(-0.12), axes="xz", at="0 0 .1"),
        drive=lambda wave, lift: {"x": 0.2 * wave, "z": 0.03 * max(0.0, lift) - 0.02},
        joint="x",
        period=2.1,
        forth=0.58,
        camera=(1.25, 100, -38, 0.05),
        more=motors("x") + motors("z", strength=400),
    )


def _kneading() -> WorkScene:
    dough = (
        '<flexcomp name="dough" type="box" count="7 7 4" spacing=".035 .035 .025" pos="0 .05 .06"'
        ' mass=".7" radius=".006" dim="3" material="dough"><contact selfcollide="none"/>'
        '<elasticity young="4e3" poisson=".2" damping=".05"/></flexcomp>'
    )
    hands = hand(-0.1, -0.07) + hand(0.1, 0.07)
    return WorkScene(
        name="kneading",
        says="kneading dough with both hands",
        parts=dough + tool(hands, axes="yz", at="0 -.02 .1"),
        drive=lambda wave, lift: {"y": 0.05 * wave, "z": -0.03 * lift},
        joint="y",
        period=1.4,
        forth=0.5,
        camera=(0.95, 80, -42, 0.05),
        floor="gravel",
        step=0.002,
        integrator="discrete",
        more=motors("y", "z"),
    )


def _stirring() -> WorkScene:
    walls = "".join(
        box(
            ".004 .035 .06",
            f"{0.15 * np.cos(a):.3f} {0.15 * np.sin(a):.3f} .06",
            "steel",
            f'euler="0 0 {np.degrees(a):.0f}"',
        )
        for a in np.linspace(0, 2 * np.pi, 26, endpoint=False)
    )
    spoon = (
        '<geom type="capsule" size=".011" fromto="0 0 -.05 0 -.06 .14" material="wood"/>'
        f'<body pos="0 -.06 .12">{hand(0.12)}</body>'
    )
    return WorkScene(
        name="stirring",
        says="stirring a pot",
        parts=walls
        + crumbs(60, 0.09, 0.03, "coffee", 0.013)
        + tool(spoon, axes="xy", at="0 0 .08"),
        drive=lambda wave, lift: {"x": 0.07 * wave, "y": 0.07 * lift},
        joint="x",
        period=1.5,
        forth=0.5,
        camera=(0.95, 85, -48, 0.06),
        more=motors("x", "y"),
    )


def _pumping() -> WorkScene:
    post = '<geom type="cylinder" size=".05 .25" pos="0 .1 .25" material="steel"/>'
    lever = (
        '<body pos="0 .1 .46"><joint name="x" type="hinge" axis="0 1 0" damping="1"/>'
        '<geom type="capsule" size=".014" fromto="-.1 0 0 .36 0 0" material="wood"'
        ' contype="0" conaffinity="0"/>'
        f'<body pos=".34 0 -.02">{hand(0.05)}</body></body>'
    )
    return WorkScene(
        name="pumping",
        says="working the lever of a pump",
        parts=post + lever,
        drive=lambda wave, lift: {"x": 0.32 * wave},
        joint="x",
        period=1.7,
        forth=0.4,
        camera=(1.6, 95, -14, 0.35),
        floor="gravel",
        more=motors("x", strength=300),
    )


def _scrubbing() -> WorkScene:
    brush = box(".06 .03 .014", "0 0 .012", "wood") + box(".056 .026 .01", "0 0 -.008", "pale")
    return WorkScene(
        name="scrubbing",
        says="scrubbing a floor with a brush",
        parts=crumbs(40, 0.16, 0.02, "moon", 0.006)
        + tool(brush + hand(0.1), axes="xyz", at="0 0 .03"),
        drive=lambda wave, lift: {"x": 0.08 * wave, "y": 0.05 * wave, "z": -0.01},
        joint="x",
        period=0.65,
        forth=0.5,
        camera=(0.9, 75, -45, 0.02),
        more=motors("x", "y") + motors("z", strength=200),
    )


def _wiping() -> WorkScene:
    cloth = (
        '<flexcomp name="cloth" type="grid" count="11 11 1" spacing=".02 .02 .02" pos="0 .02 .012"'
        ' mass=".05" radius=".003" dim="2" material="cloth"><contact selfcollide="none"/>'
        '<edge equality="true"/></flexcomp>'
    )
    return WorkScene(
        name="wiping",
        says="wiping a table in circles with a cloth",
        parts=cloth + tool(hand(0.12), axes="xyz", at="0 0 .0"),
        drive=lambda wave, lift: {"x": 0.09 * wave, "y": 0.06 * lift, "z": -0.005},
        joint="x",
        period=1.3,
        forth=0.5,
        camera=(0.95, 80, -50, 0.02),
        floor="moon",
        step=0.002,
        integrator="discrete",
        more=motors("x", "y") + motors("z", strength=300),
    )


def _carding() -> WorkScene:
    card = box(".05 .08 .008", "0 .02 .006", "wood") + box(".045 .07 .006", "0 .02 -.008", "pale")
    left = tool(card + hand(-0.14), axes="x", at="-.06 0 .1", name="l")
    right = tool(card + hand(0.14), axes="x", at=".06 0 .14", name="r")
    return WorkScene(
        name="carding",
        says="carding wool, one card against the other",
        parts=crumbs(20, 0.2, 0.02, "pale", 0.012) + left + right,
        drive=lambda wave, lift: {"lx": 0.08 * wave, "rx": -0.08 * wave},
        joint="lx",
        period=1.2,
        forth=0.5,
        camera=(1.1, 88, -40, 0.08),
        floor="grass",
        more=motors("lx", "rx"),
    )


def _hammering() -> WorkScene:
    hammer = (
        '<body pos="-.05 -.28 .1"><joint name="x" type="hinge" axis="-1 0 0" damping=".4"/>'
        '<geom type="capsule" size=".012" fromto="0 0 0 0 .3 0" material="wood"/>'
        '<geom type="cylinder" size=".022 .045" pos="0 .3 0" material="steel"/>'
        '<body pos="0 .02 -.03" euler="0 0 0">' + hand(0.06) + "</body></body>"
    )
    return WorkScene(
        name="hammering",
        says="hammering, slow up and quick down",
        parts=box(".2 .08 .02", "0 .03 .02", "wood")
        + crumbs(14, 0.1, 0.06, "steel", 0.006)
        + hammer,
        drive=lambda wave, lift: {"x": -0.3 + 0.4 * wave},
        joint="x",
        period=1.1,
        forth=0.68,
        camera=(1.05, 35, -25, 0.12),
        more=motors("x", strength=160),
    )


def _rolling() -> WorkScene:
    pin = (
        '<geom type="capsule" size=".03" fromto="-.13 0 0 .13 0 0" material="wood"/>'
        '<geom type="capsule" size=".012" fromto="-.2 0 0 .2 0 0" material="wood"/>'
    )
    dough = '<geom type="ellipsoid" size=".16 .17 .02" pos="0 .04 .01" material="dough"/>'
    hands = hand(-0.08, -0.18) + hand(0.08, 0.18)
    return WorkScene(
        name="rolling",
        says="rolling out dough with a pin",
        parts=dough + tool(pin + hands, axes="yz", at="0 .03 .06"),
        drive=lambda wave, lift: {"y": 0.1 * wave, "z": -0.01},
        joint="y",
        period=1.9,
        forth=0.5,
        camera=(1.05, 86, -44, 0.05),
        floor="gravel",
        more=motors("y") + motors("z", strength=300),
    )


def work_scenes() -> tuple[WorkScene, ...]:
    return (
        _saw(),
        _planing(),
        _kneading(),
        _stirring(),
        _pumping(),
        _scrubbing(),
        _wiping(),
        _carding(),
        _hammering(),
        _rolling(),
    )
