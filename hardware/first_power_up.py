"""Prints a MicroPython script for the first power-up: ``python -m hardware.first_power_up pico``.

The script asks nothing of the firmware; it needs only MicroPython on the board. Its pins come
from wiring.csv. It says for each check what is expected and what was found, silences the
beeper on every way out, and writes nothing to the board's files.
"""

import sys

from hardware.netlist import BOARDS, WiringFileError, gpio_by_role, load

SCRIPT = """\
from machine import Pin, PWM, SPI
import time

cs = Pin({cs}, Pin.OUT, value=1)
button = Pin({button}, Pin.IN, Pin.PULL_UP)
light = Pin({light}, Pin.OUT, value=0)
spi = SPI({unit}, baudrate=1000000, polarity=0, phase=1,
          sck=Pin({sck}), mosi=Pin({mosi}), miso=Pin({miso}))
results = []


def say(name, expected, found, good):
    results.append(good)
    print("%-4s %-28s expected %-22s found %s" % ("ok" if good else "BAD", name, expected, found))


def read(register, count):
    cs(0)
    spi.write(bytes([register]))
    data = spi.read(count)
    cs(1)
    return data


def write(register, value):
    cs(0)
    spi.write(bytes([register | 0x80, value]))
    cs(1)


def degrees(data, bits):
    raw = 0
    for byte in data:
        raw = raw << 8 | byte
    if raw >> (8 * len(data) - 1):
        raw -= 1 << (8 * len(data))
    return (raw >> bits[0]) * bits[1]


def tone(hertz):
    pwm = PWM(Pin({beeper}))
    try:
        pwm.freq(hertz)
        pwm.duty_u16(32768)
        time.sleep_ms(400)
    finally:
        pwm.duty_u16(0)
        pwm.deinit()
        Pin({beeper}, Pin.OUT, value=0)


say("button, not pressed", "1", button(), button() == 1)
idle = read(0x02, 3)
say("converter after power-up", "ff 7f c0", " ".join("%02x" % b for b in idle),
    idle == bytes([0xFF, 0x7F, 0xC0]))
write(0x00, 0x01)          # conversions off, 50 Hz filter: it may change only while off
write(0x01, {cr1})          # 4 readings averaged, thermocouple type
write(0x00, 0x91)          # convert all the time, open probe detection on, 50 Hz
say("settings read back", "91 {cr1:02x}", " ".join("%02x" % b for b in read(0x00, 2)),
    read(0x00, 2) == bytes([0x91, {cr1}]))
time.sleep_ms(5000)        # an open probe is looked for at every 16th conversion only
status = read(0x0F, 1)[0]
cold = degrees(read(0x0A, 2), (2, 1 / 64))
warm = degrees(read(0x0C, 3), (5, 1 / 128))
say("probe status", "00", "%02x" % status, status == 0)
say("board temperature, C", "10.0 to 45.0", "%.1f" % cold, 10 <= cold <= 45)
say("probe in the room, C", "within 3 of board", "%.1f" % warm, abs(warm - cold) <= 3)
light(1)
print("     the light is on for 2 s; then three tones of 1600, 1900 and 2300 Hz")
time.sleep_ms(2000)
light(0)
for hertz in (1600, 1900, 2300):
    tone(hertz)
    time.sleep_ms(200)
print("     press the button within 10 s")
pressed = False
for _ in range(1000):
    pressed = pressed or button() == 0
    time.sleep_ms(10)
    if pressed:
        break
say("button, pressed", "0", "0" if pressed else "never", pressed)
print("%d of %d checks ok" % (sum(results), len(results)))
"""

CR1 = {"K": 0x23, "T": 0x27, "N": 0x24, "J": 0x22}
"""Converter setting for 4 averaged readings, by thermocouple type."""


def script(board: str, thermocouple: str = "T") -> str:
    """The script for a board and thermocouple type. Raises KeyError if either is unknown."""
    pins = gpio_by_role(load(), board)
    return SCRIPT.format(unit=1 if board == "esp32s3" else 0, cr1=CR1[thermocouple], **pins)


def main(arguments: list[str]) -> int:
    """Print the script for the board (and thermocouple type) named on the command line."""
    choice = [*arguments, "T"][:2] if len(arguments) in (1, 2) else ["", ""]
    if choice[0] not in BOARDS or choice[1] not in CR1:
        print(
            f"Say which board ({', '.join(BOARDS)}) and, if it is not T, the thermocouple type "
            "(K, N, J), such as: python -m hardware.first_power_up pico K.",
            file=sys.stderr,
        )
        return 2
    try:
        print(script(*choice), end="")
    except WiringFileError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
