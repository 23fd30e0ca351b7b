"""Reads, writes and is refused by the bench's inverters, as KILTER_BENCH describes them, through the Python client
pymodbus; prints what it saw as JSON."""

import json
import os
import struct

from pymodbus.client import ModbusTcpClient

with open(os.environ["KILTER_BENCH"], encoding="utf-8") as f:
    bench = json.load(f)
devices = {d["name"]: d for d in bench["devices"]}


def link(device):
    host, port = device["address"].split(":")
    client = ModbusTcpClient(host, port=int(port), timeout=10)
    assert client.connect()
    return client


def code(reply):
    """The exception that a request is answered with, 0 if none."""
    return reply.exception_code if reply.isError() else 0


def words(reply):
    assert not reply.isError(), reply
    return reply.registers


def signed(format, *values):
    return struct.unpack(">" + format, struct.pack(">%dH" % len(values), *values))[0]


seen = {}
north = devices["north"]
client, unit = link(north), north["unit"]
seen["marker"] = struct.pack(">2H", *words(client.read_holding_registers(north["base"], 2, slave=unit))).decode("latin1")
# Model 103 begins at base + 70; W is its point 14, with its scale factor behind it.
power, scale = words(client.read_holding_registers(north["base"] + 84, 2, slave=unit))
seen["northW"] = north["sign"] * signed("h", power) * 10 ** signed("h", scale)
seen["beyond"] = code(client.read_holding_registers(north["base"] - 1, 1, slave=unit))
client.close()

south = devices["south"]
client, unit = link(south), south["unit"]
points = {p["signal"]: p for p in south["registers"]["points"]}


def value(point, raw):
    return point["sign"] * (raw * point["scale"] + point.get("offset", 0))


low, high = words(client.read_input_registers(points["ac_power"]["address"], 2, slave=unit))
seen["southW"] = value(points["ac_power"], signed("i", high, low))
seen["soc"] = value(points["soc"], words(client.read_input_registers(points["soc"]["address"], 1, slave=unit))[0])
limit = points["charge_limit"]
seen["refused"] = code(client.write_register(limit["address"], 60000, slave=unit))
assert not client.write_register(limit["address"], 1234, slave=unit).isError()
seen["limitW"] = value(limit, words(client.read_holding_registers(limit["address"], 1, slave=unit))[0])
assert not client.write_registers(points["setpoint"]["address"], [-800 & 0xFFFF, 0xFFFF], slave=unit).isError()
client.close()
print(json.dumps(seen))
