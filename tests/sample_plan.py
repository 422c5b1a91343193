"""A day plan put together by hand for tests of sheets and screens; everything in it is invented."""

from dataclasses import replace
from datetime import date, time

from sideport.day.plan import (
    CostLine,
    CutGrounds,
    DayPlan,
    EyePlan,
    KitItem,
    PowerNeed,
    Reading,
    Remeasurement,
    ShelfRow,
    Slot,
    TonightItem,
)
from sideport.eye.person import Cataract, Sex
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import Basis, Effect, Flag, Reason, Severity
from sideport.lens.choice import FormulaResult, LensChoice
from sideport.lens.model import Placement
from sideport.optics.side import Side
from sideport.risk.advice import OddsFactor, OperatorAdvice, RiskEstimate, TechniqueAdvice, TradeFactor
from sideport.risk.team import Grade
from sideport.wound.access import SiteAccess
from sideport.wound.nucleus import NucleusBelief
from sideport.wound.plan import Extension, Site, WoundOption, WoundPlan, WoundShape
from sideport.wound.technique import Technique

__all__ = ["sample_eye", "sample_plan"]

BENGALI_NAME = "রুক্মিণী বিশ্বাস"
DEVANAGARI_NAME = "कृष्णा विश्वकर्मा"
LONG_NAME = "Maximiliana Konstantina Featherstone-Abernathy of the Outer Lantern Skerries"


def sample_plan() -> DayPlan:
    """Eight eyes: six on the list, one stopped, one referred; scripts, gaps and an empty shelf among them."""
    eyes = (
        plain_right(),
        bengali_left(),
        only_eye_left(),
        devanagari_right(),
        long_name_without_lens(),
        missing_values(),
        stopped_eye(),
        referred_eye(),
    )
    return DayPlan(
        format_version=1,
        program_version="0.1.0",
        knowledge_version="0123456789ab",
        inputs_sha256="5a" * 32,
        seed=1,
        unit="Quill Island Eye Unit",
        day=date(2031, 3, 4),
        starts=time(8, 0),
        ends=time(10, 30),
        tables=2,
        finishes=time(10, 10),
        overtime_min=0.0,
        eyes=eyes,
        tonight=tonight(),
        kit=(*kit(), KitItem("Anterior vitrectomy set", 1, "set", "3 eyes with raised odds of a tear", True)),
        cost=(CostLine("Lenses", 61.5), CostLine("Viscoelastic", 24.0), CostLine("Trypan blue", None)),
        currency="QID",
        shelf=shelf(eyes),
        team=("Ines Calder", "Bodhi Marr", "Wren Achterberg"),
        expected_tears=0.21,
        remeasure=(
            Remeasurement("QI-106-left", "axial length", "contact ultrasound", 5, 0.39, 0.37,
                          "5 readings are expected to raise the chance of 6/12 from 39 to 76 in 100."),
        ),
    )  # fmt: skip


def sample_eye() -> EyePlan:
    """One ordinary eye from the sample plan."""
    return sample_plan().eyes[0]


def plain_right() -> EyePlan:
    """A right eye with a superior frown, first on table 1."""
    return build_eye(
        person_id="QI-101", name="Tansy Oakhollow", side=Side.RIGHT, age=67, sex=Sex.FEMALE, slot=slot(1, 1, 8, 0),
        wound=wound(Site.SUPERIOR, 90.0, (180.0, 30.0)),
    )  # fmt: skip


def bengali_left() -> EyePlan:
    """A left eye of a person whose name is written in Bengali, white cataract, temporal cut, a shared backup."""
    eye = build_eye(
        person_id="QI-102", name=BENGALI_NAME, side=Side.LEFT, age=71, sex=Sex.FEMALE, slot=slot(2, 2, 8, 0),
        cataract=Cataract.WHITE, wound=wound(Site.TEMPORAL, 0.0, (90.0, 270.0)), power=22.5,
    )  # fmt: skip
    chamber = replace(choice(18.0, Placement.CHAMBER, -0.55, 0.7), model="Chamber D", shared=True)
    return replace(eye, backup=replace(eye.backup, shared=True) if eye.backup else None, chamber=chamber)


def only_eye_left() -> EyePlan:
    """A left eye that is the person's only seeing eye."""
    flag = Flag("only-eye", Severity.WARN, "This is the only eye that sees.", "The most senior operator does it.",
                "practice", Basis.COMMON_PRACTICE)  # fmt: skip
    return build_eye(
        person_id="QI-103", name="Orsolo Finch", side=Side.LEFT, age=80, sex=Sex.MALE, slot=slot(3, 1, 8, 25),
        cataract=Cataract.HYPERMATURE, only_eye=True, flags=(flag,), power=19.0,
        wound=wound(Site.SUPEROTEMPORAL, 45.0, (0.0, 180.0)),
    )  # fmt: skip


def devanagari_right() -> EyePlan:
    """A right eye of a person whose name is written in Devanagari, with a minus lens."""
    return build_eye(
        person_id="QI-104", name=DEVANAGARI_NAME, side=Side.RIGHT, age=58, sex=Sex.MALE, slot=slot(4, 2, 8, 25),
        power=-2.0, wound=wound(Site.TEMPORAL, 180.0, (90.0,)),
    )  # fmt: skip


def long_name_without_lens() -> EyePlan:
    """An eye with a very long name for which the shelf has no acceptable lens."""
    flag = Flag("no-acceptable-lens", Severity.WARN, "No lens on the shelf comes within 1.00 D of the target.",
                "Fetch Rigid A +27.5 D tonight.", "unit", Basis.COMMON_PRACTICE, 1.62, 1.0, "D")  # fmt: skip
    needs = (
        PowerNeed(Placement.BAG, "Rigid A", 27.5, "nearest on the shelf misses by 1.62 D"),
        PowerNeed(Placement.SULCUS, "Three-piece C", 26.5, "no sulcus lens of this power"),
    )
    return build_eye(
        person_id="QI-105", name=LONG_NAME, side=Side.RIGHT, age=74, sex=Sex.FEMALE, slot=slot(5, 1, 8, 50),
        power=24.0, has_lens=False, flags=(flag,), needs=needs, wound=wound(Site.SUPERIOR, 90.0, (0.0, 180.0)),
    )  # fmt: skip


def missing_values() -> EyePlan:
    """An eye of which little is recorded: no age, sex, acuity, readings; the belief is the population's."""
    flag = Flag("no-axial-length", Severity.WARN, "No axial length: the lens rests on the population alone.",
                "Measure before surgery.", "practice", Basis.COMMON_PRACTICE)  # fmt: skip
    return build_eye(
        person_id="QI-106", name="Perrin Sand", side=Side.LEFT, age=None, sex=None, slot=slot(6, 2, 8, 50),
        cataract=None, acuity="", readings=(), flags=(flag,), sd=2.6, origin="population only", readings_n=0,
        wound=wound(Site.SUPERIOR, 90.0, (0.0, 180.0)), operator=None,
    )  # fmt: skip


def stopped_eye() -> EyePlan:
    """An eye that must not be operated before its biometry is settled."""
    flag = Flag("eyes-swapped", Severity.STOP, "The two eyes' axial lengths look exchanged: 24.90 and 22.10 mm.",
                "Measure both eyes again; a second observer reads the side aloud.", "practice",
                Basis.COMMON_PRACTICE, 2.8, 0.3, "mm")  # fmt: skip
    return build_eye(
        person_id="QI-107", name="Juniper Vale", side=Side.RIGHT, age=63, sex=Sex.FEMALE, slot=None, flags=(flag,),
        off_list="Stopped: the two eyes' axial lengths look exchanged", wound=wound(Site.SUPERIOR, 90.0, (0.0, 180.0)),
    )  # fmt: skip


def referred_eye() -> EyePlan:
    """An eye that the unit cannot do: no cut, no lens."""
    return build_eye(
        person_id="QI-108", name="Linnet Marsh", side=Side.LEFT, age=49, sex=Sex.FEMALE, slot=None, wound=None,
        off_list="Referred: the lens lies in the vitreous", technique=Technique.REFER, has_lens=False, operator=None,
    )  # fmt: skip


def build_eye(
    *, person_id: str, name: str, side: Side, age: float | None, sex: Sex | None, slot: Slot | None,
    wound: WoundPlan | None, cataract: Cataract | None = Cataract.BROWN, power: float = 21.0, acuity: str = "CF 2m",
    only_eye: bool = False, has_lens: bool = True, flags: tuple[Flag, ...] = (), needs: tuple[PowerNeed, ...] = (),
    readings: tuple[Reading, ...] | None = None, sd: float = 0.55, origin: str = "3 contact ultrasound readings",
    readings_n: int = 3, off_list: str = "", technique: Technique = Technique.MSICS,
    operator: str | None = "Ines Calder",
) -> EyePlan:  # fmt: skip
    """An eye plan from what differs between the eyes of the sample."""
    choices = tuple(choice(power + step, Placement.BAG, -0.45 - 0.7 * step, sd) for step in (0.0, -0.5, 0.5, 1.0))
    lens = choices[0] if has_lens else None
    return EyePlan(
        key=f"{person_id}-{side.value}", person_id=person_id, name=name, age_years=age, sex=sex, side=side,
        only_eye=only_eye, cataract=cataract, acuity=acuity, note="", flags=flags, target_d=-0.5,
        readings=sample_readings() if readings is None else readings,
        belief=belief(origin, readings_n, sd), choices=choices if wound else (), lens=lens,
        backup=choice(power - 1.0, Placement.SULCUS, -0.40, sd) if has_lens else None,
        chamber_need=PowerNeed(Placement.CHAMBER, "Chamber D", power - 3.5, "if neither bag nor sulcus holds"),
        needs=needs, risk=risk(), technique=technique_advice(technique), operator=operator_advice(operator),
        wound=wound, kit=kit(), cost=(CostLine("Lens", 9.5), CostLine("Viscoelastic", 4.0)), slot=slot,
        off_list=off_list, cut_grounds=cut_grounds() if wound else None,
    )  # fmt: skip


def slot(order: int, table: int, hour: int, minute: int) -> Slot:
    """A twenty-minute place on the list."""
    return Slot(order=order, table=table, starts=time(hour, minute), ends=time(hour, minute + 8), minutes=8.0)


def choice(power: float, placement: Placement, refraction: float, sd: float) -> LensChoice:
    """A lens of an invented model with an invented expectation."""
    model = "Rigid A" if placement is Placement.BAG else "Three-piece C"
    return LensChoice(
        model=model, power_d=power, placement=placement, box_id=f"{model[:1]}-{power:+.1f}", expires=date(2032, 1, 31),
        price=9.5, formula="srk-t", refraction_d=refraction, sd_d=sd, miss_d=refraction + 0.5, within_half=0.61,
        within_one=0.92, beyond_two=0.004, sees_6_12=0.74, sees_6_18=0.88,
        formulas=(FormulaResult("srk-t", refraction), FormulaResult("hoffer-q", refraction + 0.12)),
    )  # fmt: skip


def wound(site: Site, meridian_deg: float, ports: tuple[float, ...]) -> WoundPlan:
    """A frown cut at one site."""
    chosen = WoundOption(
        site=site, meridian_deg=meridian_deg, length_mm=6.5, limbus_distance_mm=1.5, tunnel_mm=1.5,
        shape=WoundShape.FROWN, induced_d=0.8, induced_axis_deg=(meridian_deg + 90) % 180, cylinder_d=0.6,
        cylinder_axis_deg=90.0, within_one=0.78, passes=0.94, seals=True,
    )  # fmt: skip
    second = replace(chosen, length_mm=7.0, cylinder_d=0.9, within_one=0.6, passes=0.98)
    wider = Extension("nucleus does not pass", 6.5, 7.0, "Lengthen both ends.", 0.9, "practice", Basis.COMMON_PRACTICE)
    reason = Reason("Steep near vertical: a superior cut flattens it", Effect.FOR, "practice", Basis.COMMON_PRACTICE)
    return WoundPlan(
        chosen=chosen, second=second, reasons=(reason,), side_ports_deg=ports, extensions=(wider,), own_eyes=12,
        own_weight=0.3,
    )  # fmt: skip


def cut_grounds() -> CutGrounds:
    """A cornea steep near 85 by 1.25 D, a hard nucleus, two open sites, and nothing in the way."""
    nucleus = NucleusBelief(7.3, 0.7, 3.2, 0.4, 0.0, "by grade 4", "nucleus130", Basis.COMMON_PRACTICE)
    nose = Reason("Against superonasal: nose and brow hinder.", Effect.AGAINST, "practice", Basis.COMMON_PRACTICE, 0.05)
    sites = (SiteAccess(Site.SUPERIOR, 0.0, ()), SiteAccess(Site.TEMPORAL, 0.0, ()),
             SiteAccess(Site.SUPEROTEMPORAL, 0.0, ()), SiteAccess(Site.SUPERONASAL, 0.05, (nose,)))  # fmt: skip
    return CutGrounds(-0.62, 0.11, 0.02, 0.02, 0.0, nucleus, sites, ())


def belief(origin: str, readings: int, sd: float) -> EyeSummary:
    """A belief with one width for all."""
    return EyeSummary(
        axial_length_mm=Estimate(23.21, 0.2 * sd, readings, origin),
        mean_k_d=Estimate(44.12, 0.5 * sd, readings, origin),
        corneal_astigmatism_d=Estimate(1.25, 0.5 * sd, readings, origin),
        steep_axis_deg=85.0,
        chamber_depth_mm=Estimate(3.05, 0.3, 0, "population only"),
        lens_thickness_mm=Estimate(4.6, 0.4, 0, "population only"),
        white_to_white_mm=Estimate(11.7, 0.4, 0, "population only"),
    )


def sample_readings() -> tuple[Reading, ...]:
    """Three axial lengths and one pair of keratometry."""
    return (
        Reading("axial length", 23.19, "mm", "contact ultrasound", None, "23.19"),
        Reading("axial length", 23.24, "mm", "contact ultrasound", None, "23,24"),
        Reading("axial length", 23.20, "mm", "contact ultrasound", None, "23.20"),
        Reading("k1", 43.50, "D", "manual keratometer", 175.0, "43.50 @ 175"),
        Reading("k2", 44.75, "D", "manual keratometer", 85.0, "7.54 mm"),
    )


def risk() -> RiskEstimate:
    """Odds with one factor of the model and one that the model lacks."""
    return RiskEstimate(
        model="narendran2009", probability=0.035, low=0.02, high=0.06, composite_odds_ratio=2.4,
        factors=(OddsFactor("Brown or white cataract", 2.99, "narendran2009", Basis.PUBLISHED),),
        trade_factors=(TradeFactor("Fibrosed capsule", "Stain, and have scissors ready.", "practice",
                                   Basis.COMMON_PRACTICE),),
        points=None, missing=("axial length over 26 mm",), note="The interval covers the odds ratios only.",
    )  # fmt: skip


def technique_advice(technique: Technique) -> TechniqueAdvice:
    """A technique with one reason."""
    reason = Reason("Brown nucleus: it leaves whole", Effect.FOR, "practice", Basis.COMMON_PRACTICE)
    return TechniqueAdvice(technique, (reason,), Technique.ECCE if technique is Technique.MSICS else None)


def operator_advice(name: str | None) -> OperatorAdvice:
    """An operator with one reason; nobody when the name is None."""
    reason = Reason("Raised odds of a tear", Effect.FOR, "practice", Basis.COMMON_PRACTICE, 0.035)
    return OperatorAdvice(name, Grade.SENIOR if name else None, None, (reason,))


def kit() -> tuple[KitItem, ...]:
    """Two things to open and one to keep closed."""
    return (
        KitItem("Viscoelastic", 1, "syringe", "every eye", False),
        KitItem("Trypan blue", 1, "vial", "no red reflex", False),
        KitItem("Capsule scissors", 1, "piece", "fibrosed capsule", True),
    )


def tonight() -> tuple[TonightItem, ...]:
    """Worst first: a stop, a fetch, a note on the day."""
    return (
        TonightItem("stop", "QI-107-right", "Juniper Vale, right eye: the two eyes' axial lengths look exchanged.",
                    "Measure both eyes again with a second observer."),
        TonightItem("warn", "QI-105-right", "No lens on the shelf comes within 1.00 D of the target.",
                    "Fetch Rigid A +27.5 D."),
        TonightItem("note", None, "No price is given for Trypan blue.", "Add it to the day's settings."),
    )  # fmt: skip


def shelf(eyes: tuple[EyePlan, ...]) -> tuple[ShelfRow, ...]:
    """The boxes that the eyes were given, one row a box."""
    given: dict[str, list[tuple[EyePlan, LensChoice]]] = {}
    for eye in eyes:
        for lens in (eye.lens, eye.backup):
            if eye.slot and lens and lens.box_id:
                given.setdefault(lens.box_id, []).append((eye, lens))
    return tuple(
        ShelfRow(
            box_id=box, model=holders[0][1].model, power_d=holders[0][1].power_d, count=len(holders) + 1,
            given=len(holders), expires=date(2032, 1, 31), lot="L7", serial="", location="Cabinet 2",
            price=9.5, given_to=tuple(eye.key for eye, _ in holders), flags=(),
        )
        for box, holders in sorted(given.items())
    )  # fmt: skip
