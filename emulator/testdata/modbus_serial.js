// Reads, writes and is refused by the bench's inverters, as KILTER_BENCH describes them, through the npm client
// modbus-serial; prints what it saw as JSON.
'use strict'
const fs = require('fs')
const Modbus = require('modbus-serial')

const bench = JSON.parse(fs.readFileSync(process.env.KILTER_BENCH, 'utf8'))
const called = name => bench.devices.find(d => d.name === name)

async function link(device) {
  const client = new Modbus()
  const [host, port] = device.address.split(':')
  await client.connectTCP(host, { port: Number(port) })
  client.setID(device.unit)
  client.setTimeout(10000)
  return client
}

// code is the exception that a request is answered with, 0 if none.
async function code(request) {
  try {
    await request
    return 0
  } catch (error) {
    if (error.modbusCode === undefined) throw error
    return error.modbusCode
  }
}

async function main() {
  const seen = {}
  const north = called('north')
  let client = await link(north)
  const marker = await client.readHoldingRegisters(north.base, 2)
  seen.marker = marker.buffer.toString('latin1')
  // Model 103 begins at base + 70; W is its point 14, with its scale factor behind it.
  const power = (await client.readHoldingRegisters(north.base + 84, 2)).buffer
  seen.northW = north.sign * power.readInt16BE(0) * 10 ** power.readInt16BE(2)
  seen.beyond = await code(client.readHoldingRegisters(north.base - 1, 1))
  client.close()

  const south = called('south')
  client = await link(south)
  const point = name => south.registers.points.find(p => p.signal === name)
  const value = (p, raw) => p.sign * (raw * p.scale + (p.offset || 0))
  const w = point('ac_power')
  const words = (await client.readInputRegisters(w.address, 2)).data // low word first
  seen.southW = value(w, (words[1] << 16) | words[0])
  const soc = point('soc')
  seen.soc = value(soc, (await client.readInputRegisters(soc.address, 1)).data[0])
  const limit = point('charge_limit')
  seen.refused = await code(client.writeRegister(limit.address, 60000))
  await client.writeRegister(limit.address, 1234)
  seen.limitW = value(limit, (await client.readHoldingRegisters(limit.address, 1)).data[0])
  const setpoint = point('setpoint')
  await client.writeRegisters(setpoint.address, [(-800) & 0xffff, 0xffff])
  client.close()
  console.log(JSON.stringify(seen))
}

main().catch(error => {
  console.error(error)
  process.exit(1)
})
