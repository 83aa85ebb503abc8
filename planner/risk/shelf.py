"""What ages on the shelf: rubber, condensers, batteries, tyres and fluid are bought for the day and not ahead."""

from __future__ import annotations

_RUBBER = (
    "Rubber ages on the shelf too: buy what is due within a year, recently made, and keep it cool, dark, boxed and"
    " unbent."
)

_RUBBER_KINDS = (
    "v_belt",
    "ribbed_belt",
    "timing_belt",
    "coolant_hose",
    "fuel_hose_lp",
    "fuel_hose_hp",
    "vacuum_hose",
    "servo_hose",
    "brake_hose",
    "brake_seals",
    "carburettor_seals",
    "accelerator_pump_diaphragm",
    "fuel_pump_mech",
    "injector_seals",
    "intake_boot",
    "cv_gaiter",
    "suspension_bush",
    "engine_mount",
    "oil_seal",
    "body_seals",
    "balljoint",
)

SHELF_WARNINGS = {
    **dict.fromkeys(_RUBBER_KINDS, _RUBBER),
    "tyres": "A tyre's age counts from its date code, not from the day of fitting: do not buy ahead.",
    "battery": "A filled battery ages on the shelf and must be charged every three months: buy it for the day.",
    "condenser": "Old stock fails new: buy recent stock and test it under its voltage before it is put by.",
    "brake_fluid": "A tin that was opened draws water: buy sealed tins for one change and throw the rest away.",
}
"""By part kind (common practice, no source; standards for stored rubber speak of five to ten years, from memory)."""


def shelf_warning(kind: str) -> str:
    """What to mind before buying a part ahead; empty where nothing speaks against it."""
    return SHELF_WARNINGS.get(kind, "")
