"""The guide to new profiles: its example loads, and no key is left out of it."""

import re
from pathlib import Path

import pytest

from drivers.check import Check, CrcParameters
from drivers.framing import FixedFraming, LineFraming, MarkFraming, ModbusFraming
from drivers.layouts import BcdLayout, CountsLayout, NumericLayout, RegistersLayout, TextLayout
from drivers.layouts.bcd import SignCodes, UnitCodes
from drivers.layouts.counts import ConstantField, CountField, StatusBitsField
from drivers.layouts.registers import StatusRegister, UnitRegister
from drivers.layouts.text import LabelField, NumberField, SequenceField, StatusField, TextField
from drivers.profile import GaugeProfile, Sample, Sending, SerialSettings, Travel
from drivers.reading import Status
from drivers.toml_form import check_toml

GUIDE = (Path(__file__).parents[2] / "docs" / "adding-a-gauge.md").read_text("utf-8")

FORMS = [GaugeProfile, Sample, Sending, SerialSettings, Travel, Check, CrcParameters]
FORMS += [LineFraming, MarkFraming, FixedFraming, ModbusFraming]
FORMS += [TextLayout, BcdLayout, CountsLayout, RegistersLayout, NumericLayout]
FORMS += [NumberField, TextField, LabelField, SequenceField, StatusField, SignCodes, UnitCodes]
FORMS += [ConstantField, CountField, StatusBitsField, UnitRegister, StatusRegister]


def example() -> str:
    (found,) = re.findall(r"```toml\n(.*?)```", GUIDE, re.DOTALL)
    return str(found)


def test_the_example_is_a_profile():
    profile, problems = check_toml(example(), "my-gauge.toml", GaugeProfile)
    assert problems == []
    assert profile is not None
    assert len(profile.samples) == 3


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.__name__)
def test_every_key_is_explained(form):
    prose = re.sub(r"```.*?```", "", GUIDE, flags=re.DOTALL)
    in_code = " ".join(re.findall(r"`([^`\n]+)`", prose))
    for name, field in form.model_fields.items():
        assert re.search(rf"\b{field.alias or name}\b", in_code), name


def test_every_status_word_is_explained():
    for status in Status:
        assert f"`{status.value}`" in GUIDE


def test_the_messages_in_the_guide_are_the_real_ones():
    text = example().replace("baud =", "bawd =").replace('"12.34"', '"12,34"')
    _, problems = check_toml(text, "my-gauge.toml", GaugeProfile)
    assert "\n".join(problems) in GUIDE
    assert len(problems) == 2
