// A controller to begin with: north follows the site alone, and south helps where that is not enough.
//
//     npm install modbus-serial
//     kilter check calm-start --controller 'node controller.js'
//
// Put your own policy into decide(), and your own devices' registers below it. `kilter probe` reads them, and the bench
// file (KILTER_BENCH) lists them.
const fs = require('fs')
const Modbus = require('modbus-serial')

const POLL = 10 // seconds from one poll to the next

// decide gives how much south may charge and discharge in W, at a grid power, positive on import, now and a poll ago.
function decide(grid, before, limits) {
  if (Math.min(grid, before) > 500) return [0, 3600] // north alone does not get there
  return Math.max(grid, before) < -500 ? [3600, 0] : limits
}

// open returns a function that gives a device's connection, made anew where the last one has ended.
function open({ address, unit }) {
  let client
  return async () => {
    if (client?.isOpen) return client
    const [host, port] = address.split(':')
    client = new Modbus()
    await client.connectTCP(host, { port: Number(port) })
    client.setID(unit)
    client.setTimeout(60000)
    return client
  }
}

async function main() {
  const bench = JSON.parse(fs.readFileSync(process.env.KILTER_BENCH, 'utf8'))
  const called = name => open(bench.devices.find(d => d.name === name))
  const gridMeter = called('grid_meter'), south = called('south'), clock = open(bench.clock)
  const factor = bench.pace === 'real' ? 1 : Number(bench.pace.slice(1)) // as in x20
  const seen = await clock()
  seen.on('close', end)
  for (let limits = [0, 0], before = 0, told; ;) {
    try {
      // SunSpec model 203 begins at 40070: W is its point 18, with the scale factor at 22.
      const { buffer } = await (await gridMeter()).readHoldingRegisters(40070, 23)
      const grid = buffer.readInt16BE(36) * 10 ** buffer.readInt16BE(44)
      limits = decide(grid, before, limits)
      before = grid
      if (String(limits) !== told) {
        await (await south()).writeRegisters(0x203, limits)
        console.log(`south may charge ${limits[0]} W and discharge ${limits[1]} W`)
        told = String(limits)
      }
    } catch (trouble) {
      console.log(trouble.message) // and it tries again at the next poll
    }
    if (bench.pace === 'stepped') { // the reply comes when so many milliseconds have passed
      await (await clock()).writeRegisters(0, [POLL * 1000 >> 16, POLL * 1000 & 0xFFFF])
    } else { // with the wall clock, or a factor faster; in pace follow the next poll itself makes time pass
      if (bench.pace !== 'follow') await new Promise(done => setTimeout(done, 1000 * POLL / factor))
      await (await clock()).readInputRegisters(0, 2)
    }
  }
}

function end() {
  console.log('the clock has closed: the scenario is over')
  process.exit(0)
}

main().catch(end)
