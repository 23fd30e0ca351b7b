"""A controller to begin with: north follows the site alone, and south helps where that is not enough.

    kilter check calm-start --controller 'python3 controller.py'

Put your own policy into decide(), and your own devices' registers below it. `kilter probe` reads them, and the bench
file (KILTER_BENCH) lists them. It needs pymodbus 3.0 or newer: Debian's python3-pymodbus."""
import json, os, sys, time
from pymodbus.client import ModbusTcpClient
from pymodbus.exceptions import ModbusException

POLL = 10  # seconds from one poll to the next


def decide(grid, before, limits):
    """Gives how much south may charge and discharge in W, at a grid power, positive on import, now and a poll ago."""
    if min(grid, before) > 500:
        return [0, 3600]  # north alone does not get there
    return [3600, 0] if max(grid, before) < -500 else limits


class Device:
    def __init__(self, at):
        host, port = at["address"].split(":")
        self.link, self.unit = ModbusTcpClient(host, port=int(port), timeout=60), at["unit"]

    def ask(self, function, *args, **more):
        try:  # the unit is called slave up to pymodbus 3.9, and device_id since
            reply = getattr(self.link, function)(*args, slave=self.unit, **more)
        except TypeError:
            reply = getattr(self.link, function)(*args, device_id=self.unit, **more)
        if reply.isError():
            raise ModbusException(f"{function} {args}: {reply}")
        return getattr(reply, "registers", None)


def signed(word):
    return (word + 0x8000) % 0x10000 - 0x8000


bench = json.load(open(os.environ["KILTER_BENCH"]))
devices = {d["name"]: Device(d) for d in bench["devices"]}
grid_meter, south, clock = devices["grid_meter"], devices["south"], Device(bench["clock"])
pace, limits, told, before = bench["pace"], [0, 0], None, 0
while True:
    try:
        # SunSpec model 203 begins at 40070: W is its point 18, with the scale factor at 22.
        model = grid_meter.ask("read_holding_registers", 40070, count=23)
        grid = signed(model[18]) * 10.0 ** signed(model[22])
        limits, before = decide(grid, before, limits), grid
        if limits != told:  # a register wears out, and so does patience with a log
            south.ask("write_registers", 0x203, limits)
            print("south may charge %d W and discharge %d W" % tuple(limits), flush=True)
            told = limits
    except ModbusException as trouble:
        print(trouble, flush=True)  # and it tries again at the next poll
    try:
        if pace == "stepped":  # the reply comes when so many milliseconds have passed
            clock.ask("write_registers", 0, [POLL * 1000 >> 16, POLL * 1000 & 0xFFFF])
        else:  # with the wall clock, or a factor faster; in pace follow the next poll itself makes time pass
            time.sleep(0 if pace == "follow" else POLL / float(pace.replace("real", "1").strip("x")))
            clock.ask("read_input_registers", 0, count=2)
    except ModbusException:
        sys.exit("the clock has closed: the scenario is over")
