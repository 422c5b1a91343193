"""The cut: where, how long, and what it does to the cornea."""

from .aggregate import Centroid, DoubleAnglePlot, Ellipse, centroid, double_angle_plot, hotelling
from .choose import plan_wound
from .cylinder import cylinder_after, probability_cylinder_within
from .extend import extensions
from .induced import InducedAstigmatism, induced_astigmatism
from .learned import OwnResults, in_cut_frame, learn_induced, out_of_cut_frame, own_results
from .length_model import MODELS, LengthModel, compare_length_models
from .nucleus import NucleusBelief, nucleus_belief, nucleus_class
from .passing import Passage, needed_slit_mm, passage, probability_passes, shortest_passing_length_mm
from .plan import Extension, Site, WoundOption, WoundPlan, WoundShape
from .seal import Seal, SealCriterion, self_sealing
from .technique import Technique
from .tunnel import Globe, Tunnel, TunnelGeometry, globe, outer_curve, tunnel_geometry
from .vectors import PolarValue, VectorAnalysis, analyse_astigmatism, double_angle, polar_value

__all__ = [
    "MODELS",
    "Centroid",
    "DoubleAnglePlot",
    "Ellipse",
    "Extension",
    "Globe",
    "InducedAstigmatism",
    "LengthModel",
    "NucleusBelief",
    "OwnResults",
    "Passage",
    "PolarValue",
    "Seal",
    "SealCriterion",
    "Site",
    "Technique",
    "Tunnel",
    "TunnelGeometry",
    "VectorAnalysis",
    "WoundOption",
    "WoundPlan",
    "WoundShape",
    "analyse_astigmatism",
    "centroid",
    "compare_length_models",
    "cylinder_after",
    "double_angle",
    "double_angle_plot",
    "extensions",
    "globe",
    "hotelling",
    "in_cut_frame",
    "induced_astigmatism",
    "learn_induced",
    "needed_slit_mm",
    "nucleus_belief",
    "nucleus_class",
    "out_of_cut_frame",
    "outer_curve",
    "own_results",
    "passage",
    "plan_wound",
    "polar_value",
    "probability_cylinder_within",
    "probability_passes",
    "self_sealing",
    "shortest_passing_length_mm",
    "tunnel_geometry",
]
