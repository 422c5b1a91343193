"""Files in and out: spreadsheets, the plan's JSON."""

from .demo import write_demo
from .findings import Rejected, as_set_aside, write_rejected
from .folder import FolderRead, inputs_sha256, read_folder
from .plan_file import PLAN_FORMAT_VERSION, plan_from_json, plan_schema, plan_to_json, read_plan, write_plan
from .templates import write_templates

__all__ = [
    "PLAN_FORMAT_VERSION",
    "FolderRead",
    "Rejected",
    "as_set_aside",
    "inputs_sha256",
    "plan_from_json",
    "plan_schema",
    "plan_to_json",
    "read_folder",
    "read_plan",
    "write_demo",
    "write_plan",
    "write_rejected",
    "write_templates",
]
