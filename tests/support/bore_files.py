"""Short bore files as tables: a cylinder, a cup, the trumpet."""

from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import parse_bore


def bore_of(*sections, **top):
    return to_bore(parse_bore({"section": list(sections), **top}, "test.toml", "."))


def cylinder(**more):
    return {"shape": "cylinder", "length_mm": 700.0, "diameter_mm": 12.0, **more}


CUP = {
    "shape": "mouthpiece",
    "rim_diameter_mm": 16.3,
    "cup_depth_mm": 9.0,
    "cup_volume_ml": 1.39,
    "throat_diameter_mm": 3.66,
    "throat_length_mm": 3.5,
    "backbore_length_mm": 65.0,
    "backbore_end_diameter_mm": 9.2,
}
TRUMPET = instruments.spec("trumpet")
