"""The invented words of the record: complaints in drivers' words, causes as technicians write them, notes."""

COMPLAINTS: dict[str, tuple[str, ...]] = {
    "egr_valve": (
        "engine light on, no power uphill",
        "flat spot pulling away, light on",
        "black smoke when I put my foot down",
        "went into limp mode on the bypass",
        "rough idle when cold",
    ),
    "egr_cooler": (
        "light on and losing water, no leak on the floor",
        "white smoke in the morning",
        "no power, light comes and goes",
        "heater went cold, light on",
    ),
    "boost_hose": ("whistling under load, no power", "loud hiss when it pulls", "no pull above 2000 revs, light on"),
    "wiring": ("light on, comes and goes in the wet", "cuts out over bumps", "light on, drives fine"),
    "dpf": (
        "filter message on dash, limp mode",
        "keeps asking to drive to clean the filter",
        "fan runs after stopping, burning smell",
        "limited to 40, light flashing",
    ),
    "intake_manifold": ("hesitates, uses more fuel than the others", "lumpy idle", "slow to rev, light on"),
    "turbo_vanes": (
        "cuts power on the motorway, fine after restart",
        "surges then no boost",
        "slow on hills, light on",
    ),
    "egt_sensor": ("light on, drives fine", "engine light"),
    "dpf_pressure_sensor": ("light on, drives fine", "filter light on again"),
    "glow_plug": ("hard to start when cold", "coil light flashing", "smoke on first start"),
    "battery": ("won't start, just clicks", "dead this morning, jumped it", "slow to turn over"),
    "alternator": ("battery light on", "lights dim, then cut out", "red battery light, steering heavy"),
    "brakes": ("grinding from the front", "squeal when stopping", "pulls to one side braking"),
}
MINOR_COMPLAINTS = (
    "light came on, gone now",
    "felt down on power yesterday",
    "dash message, can't remember which",
    "engine light",
)
RETURN_COMPLAINTS = ("light back on after last repair", "same again as last time", "still not right", "light on again")
VISIT_COMPLAINTS = ("service due", "booked inspection", "recall letter: clean valve")

CAUSES: dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]] = {
    # what the clean, the replacement and the repair found
    "egr_valve": (
        ("carbon under seat", "sticking shaft, carbon"), ("worn motor gears", "seat burnt", "position sensor dead"), (),
    ),
    "egr_cooler": (("soot fouling",), ("cracked, leaking coolant", "plugged solid"), ()),
    "boost_hose": ((), ("split", "perished"), ("clip cracked the end",)),
    "wiring": ((), (), ("chafed through", "open circuit", "corroded splice")),
    "dpf": (("ash loading",), ("substrate cracked", "ash loading", "melted core"), ()),
    "intake_manifold": (("carbon build-up",), ("flap shaft worn", "carbon build-up"), ()),
    "turbo_vanes": (("vanes stuck, soot",), (), ("unison ring worn",)),
    "egt_sensor": ((), ("open circuit", "broken tip"), ()),
    "dpf_pressure_sensor": ((), ("offset at rest", "internal short"), ()),
    "glow_plug": ((), ("open circuit",), ()),
    "battery": ((), ("failed load test", "cell down"), ()),
    "alternator": ((), ("no charge", "regulator fault"), ()),
    "brakes": ((), ("worn to limit", "scored disc"), ()),
}  # fmt: skip

NOTES: tuple[tuple[str, ...], ...] = (
    ("off, cleaned, refitted, moves freely", "heavy carbon, cleaned back to metal", "cleaned on the bench, new seal"),
    ("new unit fitted, old one kept for the claim", "fitted and set up", "renewed"),
    ("repaired and secured", "made good, routed clear", "stripped and rebuilt"),
)
REDONE = ("plug not home, re-seated", "loose clip, re-secured", "bolts tightened again", "set again, was not adapted")

BACKGROUND_CODES = ("P0562", "U0140", "P0113", "P0480", "P0672", "U0155", "P0128", "P0641", "P0087", "U0121")
SMALL_REPAIRS = (
    ("maf_sensor", "clean", "P0101"),
    ("map_sensor", "replace", "P0106"),
    ("egr_solenoid", "replace", "P0489"),
    ("egr_actuator", "replace", "P0404"),
    ("engine_ecu", "software", "P0606"),
    ("dpf_pressure_pipes", "clean", "P2453"),
)
"""Small repairs of components whose lives are not followed, with the code they come with."""
MINOR_CODES = ("P0401", "P0299", "P2463", "P24A2", "P0087", "U0100")
