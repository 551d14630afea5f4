"""Checksums and Modbus frames against published values."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.check import Check, CrcParameters
from drivers.checksum import MODBUS_CRC, Crc, lrc8, sum8, xor8
from drivers.errors import FrameError
from drivers.framing import ModbusFraming
from tests.drivers.wire_tools import LOOKS, profile_called

NINE_DIGITS = b"123456789"


def _crcs() -> list[dict[str, str]]:
    path = Path(__file__).parent.parent / "data" / "crc_check_values.csv"
    lines = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def _crc(row: dict[str, str]) -> Crc:
    return Crc(
        width=int(row["width"]),
        poly=int(row["poly"], 16),
        init=int(row["init"], 16),
        refin=row["refin"] == "True",
        refout=row["refout"] == "True",
        xorout=int(row["xorout"], 16),
    )


@pytest.mark.parametrize("row", _crcs(), ids=lambda row: row["name"])
def test_a_crc_gives_its_published_check_value(row):
    """The source of the 23 algorithms and their values is named in the data file."""
    assert _crc(row)(NINE_DIGITS) == int(row["check_123456789"], 16)


def test_the_data_file_holds_all_23_algorithms():
    assert len({row["name"] for row in _crcs()}) == 23


def _bit_by_bit(crc: Crc, data: bytes) -> int:
    """The shift register as the catalogues define it, one bit at a time and without a table."""
    register, top, mask = crc.init, 1 << (crc.width - 1), (1 << crc.width) - 1
    for byte in data:
        for bit in range(8):
            sent = byte >> (bit if crc.refin else 7 - bit) & 1
            out = bool(register & top) ^ bool(sent)
            register = (register << 1 & mask) ^ (crc.poly if out else 0)
    if crc.refout:
        register = int(f"{register:0{crc.width}b}"[::-1], 2)
    return register ^ crc.xorout


@LOOKS
@given(st.data())
def test_any_crc_is_what_its_shift_register_gives_bit_by_bit(data):
    width = data.draw(st.integers(8, 64))
    numbers = st.integers(0, (1 << width) - 1)
    crc = Crc(
        width=width,
        poly=data.draw(numbers.filter(bool)),
        init=data.draw(numbers),
        refin=data.draw(st.booleans()),
        refout=data.draw(st.booleans()),
        xorout=data.draw(numbers),
    )
    sent = data.draw(st.binary(max_size=20))
    assert crc(sent) == _bit_by_bit(crc, sent)


def test_the_simple_checks_of_nine_digits():
    """123456789 sums to 0x1DD; the three values are arithmetic on that text."""
    assert (sum8(NINE_DIGITS), lrc8(NINE_DIGITS), xor8(NINE_DIGITS)) == (0xDD, 0x23, 0x31)


def test_the_xor_of_a_published_position_sentence():
    """The widely printed NMEA 0183 example sentence with its checksum 47 (from memory)."""
    sentence = b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    assert xor8(sentence) == 0x47


RTU_FRAMES = ["02 07 41 12", "01 03 00 00 00 0A C5 CD", "11 03 00 6B 00 03 76 87"]
RTU_FRAMES += ["01 03 00 00 00 01 84 0A"]


@pytest.mark.parametrize("frame", RTU_FRAMES)
def test_a_published_modbus_rtu_frame_has_this_crc_low_byte_first(frame):
    """02 07 with CRC 0x1241: Modbus over Serial Line V1.02, appendix B (from memory). The others
    are request frames printed in many Modbus texts, recomputed bit by bit."""
    wire = bytes.fromhex(frame)
    assert MODBUS_CRC(wire[:-2]).to_bytes(2, "little") == wire[-2:]
    assert MODBUS_CRC(wire) == 0  # the residue over a frame with its CRC


@pytest.mark.parametrize(
    "line", [":0103006B00038E", ":1103006B00037E", ":F7031389000A60", ":010300000001FB"]
)
def test_a_published_modbus_ascii_line_has_this_lrc(line):
    """Modbus over Serial Line V1.02, 2.5.2 and 6.2.1 (clauses from memory)."""
    octets = bytes.fromhex(line[1:])
    assert lrc8(octets[:-1]) == octets[-1]
    assert sum8(octets) == 0


def test_the_built_in_modbus_profile_sends_the_published_request():
    """Address 17, three holding registers from 107: Modbus over Serial Line's own example frame."""
    profile = profile_called("modbus-registers")
    assert profile.request == bytes.fromhex("11 03 00 6B 00 03 76 87")


@pytest.mark.parametrize(
    ("address", "first", "registers", "request_frame"),
    [
        (1, 0, 10, "01 03 00 00 00 0A C5 CD"),
        (17, 0x6B, 3, "11 03 00 6B 00 03 76 87"),
        (1, 0, 1, "01 03 00 00 00 01 84 0A"),
    ],
)
def test_a_modbus_request_is_the_published_frame(address, first, registers, request_frame):
    framing = ModbusFraming(
        kind="modbus", address=address, first_register=first, registers=registers
    )
    assert framing.request == bytes.fromhex(request_frame)


def test_the_published_modbus_response_gives_its_register_bytes():
    """Modbus Application Protocol V1.1b3, 6.3 (from memory): registers 108 to 110 hold 022B 0000
    0064, answered by 03 06 02 2B 00 00 00 64. Address and CRC are put around it here."""
    framing = ModbusFraming(kind="modbus", address=17, first_register=0x6B, registers=3)
    body = bytes.fromhex("11 03 06 02 2B 00 00 00 64")
    wire = body + MODBUS_CRC(body).to_bytes(2, "little")
    cut = framing.cut(bytearray(wire), in_step=True)
    assert cut is not None
    assert cut.payload == bytes.fromhex("02 2B 00 00 00 64")
    assert framing.wrap(cut.payload) == wire


CRC16 = {"width": 16, "poly": 0x1021, "init": 0xFFFF, "refin": False, "refout": False, "xorout": 0}


@pytest.mark.parametrize(
    ("check", "wire"),
    [
        ({"kind": "sum"}, b"123456789DD"),
        ({"kind": "lrc"}, b"12345678923"),
        ({"kind": "xor", "lead": "*"}, b"123456789*31"),
        ({"kind": "sum", "written": "small hex"}, b"123456789dd"),
        ({"kind": "sum", "written": "high byte first"}, b"123456789\xdd"),
        ({"kind": "crc", "crc": CRC16}, b"12345678929B1"),
        ({"kind": "crc", "crc": CRC16, "written": "low byte first"}, b"123456789\xb1\x29"),
    ],
)
def test_a_checksum_is_written_the_way_the_profile_says(check, wire):
    made = Check(**check)
    assert made.append(NINE_DIGITS, b"", b"") == wire
    assert made.strip(wire, b"", b"") == NINE_DIGITS
    assert made.size == len(wire) - len(NINE_DIGITS)


def test_a_checksum_covers_what_it_names_in_that_order():
    crc = CrcParameters(**CRC16)
    made = Check(kind="crc", crc=crc, covers=("end", "payload", "start"), skip=3)
    assert made.append(b"xyz3456", b"789", b"12").endswith(b"29B1")


@pytest.mark.parametrize("payload", [b"", b"4", b"47", b"00", b"\x0047", b"N12.34 mm46"])
def test_a_payload_without_room_for_body_and_checksum_is_refused(payload):
    with pytest.raises(FrameError, match="checksum"):
        Check(kind="xor").strip(payload, b"", b"")
