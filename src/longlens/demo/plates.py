"""What is published of the invented Fulmar: its plates and the sequence of its film."""

from __future__ import annotations

from longlens.demo.stages import Progress, Result
from longlens.dossier.records import Shot
from longlens.dossier.store import Dossier
from longlens.publish.plates import (
    Arrow,
    Chart,
    Dimension,
    Highlight,
    Inset,
    Linkage,
    Plate,
    ScaleBar,
    Sequence,
    Series,
    Stop,
    Straight,
    View,
)
from longlens.publish.rights import withheld

SEQUENCE = "fulmar"
_LF, _RF = "left.front.", "right.front."
_COOLER = [
    "left.cooler.corner.start_lower", "left.cooler.corner.start_upper", "left.cooler.edge.upper_1",
    "left.cooler.edge.upper_2", "left.cooler.edge.upper_3", "left.cooler.corner.end_upper", "left.cooler.edge.lower_3",
    "left.cooler.edge.lower_2", "left.cooler.edge.lower_1",
]  # fmt: skip


def _wishbone(corner: str, level: str) -> list[list[str]]:
    p = f"{corner}{level}_wishbone."
    return [[p + "front_inner", p + "outer", p + "rear_inner"]]


def _rod(name: str) -> list[list[str]]:
    return [[f"{name}.inner", f"{name}.outer"]]


def plates() -> list[Plate]:
    """The plates, in the order of the film."""
    return [
        Plate(
            id="first-look", stage="shown", title="What was shown", view=View(shot="s1_studio_front"), darken=0.3,
            text="Ten photographs and one press sheet. All else is measured.",
            dimensions=[Dimension(measure="front_wing.span", towards="z", away=0.3, label="Front wing")],
        ),
        Plate(
            id="proportions", stage="shown", title="The scale", view=View(shot="s2_studio_side", window=(60, 760, 4200, 2420)),
            text="The press sheet says {fact:wheelbase}; the photographs give {measure:left.wheelbase}.",
            dimensions=[
                Dimension(measure="left.wheelbase", towards="-z", away=0.29, label="Wheelbase"),
                Dimension(measure="left.front.tyre.diameter", towards="z", away=0.40, label="Front tyre"),
                Dimension(measure="left.rear.tyre.diameter", towards="z", away=0.42, label="Rear tyre"),
                Dimension(measure="roll_hoop.height", towards="x", away=0.30, label="Hoop over the ground"),
            ],
        ),
        Plate(
            id="two-stages", stage="shown", title="What changed since the test car",
            text="The second cooler is new; the first one is {measure:left.cooler.height} high.",
            view=View(shot="s9_left_pod_rear", window=(700, 500, 3700, 2500), caption="Shown car"),
            beside=View(shot="t2_side_crop", window=(1250, 500, 2750, 1600), caption="Test car"),
            highlights=[
                Highlight(parts=["left second cooler collector start"], label="Second cooler",
                          line="{measure:left.second_cooler.height} high"),
            ],
        ),
        Plate(
            id="front-suspension", stage="shown", title="Front suspension",
            text="Double wishbones, a pushrod, and a rocker on a torsion bar.",
            view=View(shot="s3_front_suspension", window=(700, 450, 3420, 1980)),
            highlights=[
                Highlight(rods=_wishbone(_LF, "upper"), label="Upper wishbone",
                          line="base {measure:left.front.upper_wishbone.base}"),
                Highlight(rods=_wishbone(_LF, "lower"), label="Lower wishbone"),
                Highlight(rods=_rod(_LF + "pushrod"), label="Pushrod", line="{measure:left.front.pushrod.angle} to the wishbone"),
                Highlight(parts=["front heave"], label="Heave element", line="{measure:front.heave}"),
            ],
        ),
        Plate(
            id="linkage", stage="shown", title="How it moves",
            text="Thirty millimetres up and down at the wheel. The rocker turns one into the other.",
            view=View(shot="s6_front_right", window=(300, 500, 3700, 2412)), linkage=Linkage(end="front"), darken=0.0,
        ),
        Plate(
            id="rocker", stage="shown", title="The rocker's levers",
            text="The heave element moves further than the pushrod does.",
            view=View(shot="s3_front_suspension", window=(1250, 600, 3050, 1610)),
            highlights=[
                Highlight(parts=["front heave"], label="Heave element"),
                Highlight(rods=_rod(_LF + "pushrod")),
            ],
            chart=Chart(
                series=[
                    Series(of="measure:left.front.rocker.pushrod_lever", label="Pushrod"),
                    Series(of="measure:left.front.rocker.bar_lever", label="Anti-roll bar link"),
                    Series(of="measure:left.front.rocker.heave_lever", label="Heave element"),
                ],
                corner="top left", width=0.36,
            ),
        ),
        Plate(
            id="left-pod", stage="shown", title="Two coolers in the left pod",
            view=View(shot="s4_left_pod", window=(250, 560, 4050, 2698)),
            text="Its collectors taper, so the coolant enters where they are thickest.",
            highlights=[
                Highlight(outline=_COOLER, label="First cooler", line="{measure:left.cooler.height} high"),
                Highlight(parts=["left cooler collector start"], label="Its collector",
                          line="from {measure:left.cooler.collector_start.foot_diameter@shown}"),
                Highlight(parts=["left second cooler collector start"], label="Second cooler",
                          line="{measure:left.second_cooler.height} high"),
                Highlight(rods=[["left.bleed_line.low_end", "left.bleed_line.bracket_1", "left.bleed_line.bracket_2"]],
                          label="Bleed line", line="rises {measure:left.bleed_rise}"),
            ],
            scale_bar=ScaleBar(through="left.cooler.collector_start.foot", length=0.4, drop=0.10, label="in the cooler's plane"),
        ),
        Plate(
            id="square-on", stage="shown", title="The first cooler, square on",
            text="Straightened to the plane of its collector: in that plane lengths are true.",
            view=View(shot="s9_left_pod_rear"), darken=0.25,
            straight=Straight(through="left.cooler.collector_start.foot", side="left", width=1.5),
            dimensions=[Dimension(measure="left.cooler.collector_start", towards="x", away=0.09, label="Collector")],
            scale_bar=ScaleBar(through="left.cooler.collector_start.foot", length=0.4, drop=0.10, label="in that plane"),
        ),
        Plate(
            id="plumbing", stage="shown", title="One loop or two?",
            text="The return pipe passes both coolers. What hides behind the first one would settle it.",
            view=View(shot="s9_left_pod_rear", window=(560, 420, 4000, 2355)),
            highlights=[
                Highlight(rods=[["left.return_pipe.bracket_1", "left.return_pipe.bracket_2", "left.return_pipe.bracket_3"]],
                          label="Return pipe's brackets"),
                Highlight(parts=["left cooler collector start"], label="Feed, at the thick end",
                          line="{measure:left.cooler.collector_start.foot_diameter@shown}"),
            ],
            arrows=[Arrow(kind="flow", system="aero", path=[(700, 1560), (1010, 1480), (1250, 1500)], label="Air")],
            insets=[Inset(view=View(shot="s4_left_pod", window=(2350, 1150, 2950, 1650)), corner="top left", width=0.24,
                          label="Second cooler, from outside")],
        ),
        Plate(
            id="rear", stage="shown", title="Rear suspension", view=View(shot="s5_backlit_rear", window=(1750, 900, 4256, 2310)),
            text="Pushrods again, with coil springs lying on the drive unit.",
            highlights=[
                Highlight(rods=[["left.rear.spring.chassis", "left.rear.rocker.spring"]], label="Coil spring",
                          line="{measure:left.rear.spring}"),
                Highlight(rods=_rod("right.rear.pushrod"), label="Pushrod", line="{measure:right.rear.pushrod}"),
                Highlight(rods=_rod("right.rear.toe_link"), label="Toe link"),
            ],
        ),
        Plate(
            id="nose", stage="shown", title="What must take the blow",
            text="The crash structure is {measure:crash_structure.length} long.",
            view=View(shot="s6_front_right", window=(1750, 760, 4256, 2170)),
            dimensions=[Dimension(measure="crash_structure.length", towards="z", away=0.12, label="Crash structure")],
            highlights=[Highlight(outline=["left.crash_structure.front_upper", "left.crash_structure.rear_upper",
                                           "right.crash_structure.rear_upper", "right.crash_structure.front_upper"],
                                  label="Upper face", system="structure")],
        ),
    ]  # fmt: skip


#: Plate, chapter, and what is said to it.
_STORY: tuple[tuple[str, str, str], ...] = (
    (
        "first-look",
        "What was shown",
        "This is the Fulmar E4, an electric hill-climb car. Ten photographs of it are out, and one page of figures from "
        "its maker. Nobody outside has touched it. Let us see how much the photographs give away.",
    ),
    (
        "proportions",
        "The scale",
        "First the scale. Tyre sizes and wheelbase are published. Every rim is a circle of known size, and that "
        "is enough to place the cameras. The wheelbase comes out at {measure:left.wheelbase}.",
    ),
    (
        "two-stages",
        "What changed",
        "The camouflaged test car had one cooler in each pod. The shown car has two. The second one is "
        "{measure:left.second_cooler.height} high.",
    ),
    (
        "front-suspension",
        "Front suspension",
        "At the front there are double wishbones and a pushrod. It meets the wishbone at "
        "{measure:left.front.pushrod.angle}, and turns a rocker that sits on a torsion bar. Between the rockers "
        "lies a heave element.",
    ),
    (
        "linkage",
        "Front suspension",
        "Here is the linkage from the measured points, moving over the photograph. Thirty millimetres up and down "
        "at the wheel. Watch the rockers.",
    ),
    (
        "rocker",
        "Front suspension",
        "The levers on the rocker set the ratios. The heave element has the longest one, "
        "{measure:left.front.rocker.heave_lever}. Mind the intervals: they are the honest part.",
    ),
    (
        "left-pod",
        "Cooling",
        "Now the cooling. The first core is {measure:left.cooler.height} high. Its collector tapers: thick where "
        "the coolant enters. The bleed line climbs to the header tank, as it must.",
    ),
    (
        "square-on",
        "Cooling",
        "Seen square on, the collector measures {measure:left.cooler.collector_start}.",
    ),
    (
        "plumbing",
        "Cooling",
        "One loop or two? From behind we see the return pipe pass both coolers. That speaks for one loop, but the "
        "joint itself is hidden. A photograph from above the floor would settle it.",
    ),
    (
        "rear",
        "Rear suspension",
        "The rear repeats the idea. Pushrods, and coil springs that lie on the drive unit, each "
        "{measure:left.rear.spring} long.",
    ),
    (
        "nose",
        "Crash structure",
        "In front, the crash structure is {measure:crash_structure.length} long. These are estimates from "
        "photographs, for understanding. Nothing here is a basis for building or driving a car.",
    ),
)


def sequence() -> Sequence:
    """The film's order and words."""
    return Sequence(
        id=SEQUENCE, title="Fulmar E4: what the photographs tell", words_per_minute=150,
        subtitle="Measured from ten published photographs, with honest intervals",
        credits="Survey, plates and film: longlens. Car, maker and figures are invented.",
        stops=[Stop(plate=plate, chapter=chapter, narration=words) for plate, chapter, words in _STORY],
    )  # fmt: skip


def add_plates(dossier: Dossier, result: Result, progress: Progress) -> None:
    """Plates and sequence into the dossier of the Fulmar once its shown stage is there, and the plates as pictures."""
    if result.car != "fulmar" or result.stage != "shown" or result.answer is None:
        return
    from longlens.publish.basis import Bases
    from longlens.publish.edition import write_plate
    from longlens.publish.reading import mark_read
    from longlens.publish.whole import folder

    bases = Bases(dossier)
    made = plates()
    with dossier.batch("plates and sequence"):
        for plate in made:
            dossier.put(plate)
        dossier.put(sequence())
        mark_read(bases)
    root = folder(result.dossier.parent / "plates")
    shown = {a.id for a in dossier.all(Shot) if not withheld(a)}
    for n, plate in enumerate(made):
        progress(f"plate {plate.id}", n / len(made))
        if _shots(plate) <= shown:
            write_plate(bases, plate, "wide", root, ("png",))


def _shots(plate: Plate) -> set[str]:
    return {v.shot for v in (plate.view, plate.beside, *(i.view for i in plate.insets)) if v is not None}
