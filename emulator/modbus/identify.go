package modbus

import "strings"

const (
	deviceIdentification = 0x0E // the MEI type of function 2B
	maxPDU               = 253
	basicObjects         = 3 // vendor, product code, revision
	regularObjects       = 7 // and address, product, model and application name
)

// identify is function 2B/0E, clause 6.21, stream access.
func identify(u *unit, pdu []byte) ([]byte, error) {
	objects := u.device.Identification()
	if len(objects) == 0 {
		return nil, IllegalFunction
	}
	if len(pdu) < 2 {
		return nil, IllegalDataValue
	}
	if pdu[1] != deviceIdentification {
		return nil, IllegalFunction
	}
	if len(pdu) != 4 {
		return nil, IllegalDataValue
	}
	if len(objects) > regularObjects {
		objects = objects[:regularObjects]
	}
	// The conformity level is what the device has, whatever the client asks for.
	conformity := byte(0x01)
	if len(objects) > basicObjects {
		conformity = 0x02
	}
	code, first := pdu[2], int(pdu[3])
	switch code {
	case 0x01:
		objects = objects[:min(len(objects), basicObjects)]
	case 0x02, 0x03:
	default:
		return nil, IllegalDataValue
	}
	// An object that does not exist restarts at the beginning (clause 6.21).
	if first >= len(objects) {
		first = 0
	}
	reply := []byte{deviceIdentification, code, conformity, 0x00, 0x00, 0x00}
	for id := first; id < len(objects); id++ {
		text := objects[id]
		room := maxPDU - 1 - len(reply) - 2
		if id > first && len(text) > room {
			reply[3], reply[4] = 0xFF, byte(id)
			break
		}
		text = text[:min(len(text), room)]
		reply = append(reply, byte(id), byte(len(text)))
		reply = append(reply, text...)
		reply[5]++
	}
	return reply, nil
}

// reportServer is function 11, clause 6.13: the unit's number stands for the
// device-specific server id, FF says that it runs, and the identification
// follows as text.
func reportServer(u *unit, pdu []byte) ([]byte, error) {
	objects := u.device.Identification()
	if len(objects) == 0 {
		return nil, IllegalFunction
	}
	if len(pdu) != 1 {
		return nil, IllegalDataValue
	}
	text := strings.Join(objects, " ")
	text = text[:min(len(text), maxPDU-4)]
	return append([]byte{byte(2 + len(text)), u.number, 0xFF}, text...), nil
}
