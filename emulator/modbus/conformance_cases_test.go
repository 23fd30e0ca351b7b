package modbus_test

// The wire cases. A line has a name, and then steps: a request, an arrow
// and what must come back. XX*n repeats bytes. Unit 1 has 1184 addresses in
// each table, unit 2 has all 65536, unit 3 nothing but the four tables (8
// addresses each), unit 4 answers a read at address N with exception N. Holding
// register N holds N, input register N 8000+N; odd coils and every third
// discrete input are on. Sources, if a line has none: MODBUS Application
// Protocol V1.1b3, the clause of the function (01 is 6.1, 0F is 6.11, 16 is
// 6.16, 17 is 6.17, 18 is 6.18, 2B is 6.21), and clause 7 for exceptions.

// unitCases are a unit and a PDU, framed for each transport.
const unitCases = `
01 one coil                           : 01 01 0001 0001 > 01 01 01 01
01 one coil that is off               : 01 01 0000 0001 > 01 01 01 00
01 eight coils                        : 01 01 0000 0008 > 01 01 01 AA
01 nine coils pad with zero           : 01 01 0000 0009 > 01 01 02 AA 00
01 seven coils pad with zero          : 01 01 0000 0007 > 01 01 01 2A
01 sixteen coils from an odd address  : 01 01 0001 0010 > 01 01 02 55 55
01 nineteen coils (MB-01's window)    : 01 01 0013 0013 > 01 01 03 55 55 05
01 the last coil of the device        : 01 01 049F 0001 > 01 01 01 01
01 past the device (MB-17)            : 01 01 04A1 0001 > 01 81 02
01 half past the device               : 01 01 049F 0002 > 01 81 02
01 2000 coils (MB-20)                 : 02 01 0000 07D0 > 02 01 FA AA*250
01 2001 coils (MB-20)                 : 02 01 0000 07D1 > 02 81 03
01 no coil (MB-20)                    : 02 01 0000 0000 > 02 81 03
01 65535 coils                        : 02 01 0000 FFFF > 02 81 03
01 the last coil there is (MB-27)     : 02 01 FFFF 0001 > 02 01 01 01
01 past the address space (MB-27)     : 02 01 FFFF 0002 > 02 81 02
01 2000 coils up to the last          : 02 01 F830 07D0 > 02 01 FA AA*250
01 2000 coils one too far             : 02 01 F831 07D0 > 02 81 02
02 one input                          : 01 02 0000 0001 > 01 02 01 01
02 eight inputs                       : 01 02 0000 0008 > 01 02 01 49
02 twenty-two inputs                  : 01 02 0000 0016 > 01 02 03 49 92 24
02 an input that is off               : 01 02 0001 0001 > 01 02 01 00
02 past the device                    : 01 02 04A0 0001 > 01 82 02
02 2000 inputs (MB-20)                : 02 02 0000 07D0 > 02 02 FA 499224*83 49
02 2001 inputs (MB-20)                : 02 02 0000 07D1 > 02 82 03
02 no input (MB-20)                   : 02 02 0000 0000 > 02 82 03
02 the last input there is (MB-27)    : 02 02 FFFF 0001 > 02 02 01 01
02 past the address space (MB-27)     : 02 02 FFFF 0002 > 02 82 02
03 one register                       : 01 03 0007 0001 > 01 03 02 0007
03 three registers (MB-03's window)   : 01 03 006B 0003 > 01 03 06 006B 006C 006D
03 high and low byte in order         : 01 03 0123 0001 > 01 03 02 0123
03 the last register of the device    : 01 03 049F 0001 > 01 03 02 049F
03 past the device                    : 01 03 04A0 0001 > 01 83 02
03 half past the device               : 01 03 049F 0002 > 01 83 02
03 eight registers                    : 03 03 0000 0008 > 03 03 10 0000 0001 0002 0003 0004 0005 0006 0007
03 125 equal registers (MB-21)        : 05 03 0000 007D > 05 03 FA A5*250
03 126 registers (MB-21)              : 05 03 0000 007E > 05 83 03
03 no register (MB-21)                : 05 03 0000 0000 > 05 83 03
03 65535 registers                    : 05 03 0000 FFFF > 05 83 03
03 256 registers, whose count wraps   : 05 03 0000 0100 > 05 83 03
03 the last register there is (MB-27) : 02 03 FFFF 0001 > 02 03 02 FFFF
03 past the address space (MB-27)     : 02 03 FFFF 0002 > 02 83 02
03 125 up to the last                 : 05 03 FF83 007D > 05 03 FA A5*250
03 125 one too far                    : 05 03 FF84 007D > 05 83 02
04 one register                       : 01 04 0008 0001 > 01 04 02 8008
04 two registers                      : 01 04 0000 0002 > 01 04 04 8000 8001
04 past the device                    : 01 04 04A0 0001 > 01 84 02
04 125 equal registers (MB-21)        : 05 04 0000 007D > 05 04 FA A5*250
04 126 registers (MB-21)              : 05 04 0000 007E > 05 84 03
04 no register (MB-21)                : 05 04 0000 0000 > 05 84 03
04 the last register there is (MB-27) : 02 04 FFFF 0001 > 02 04 02 7FFF
04 past the address space (MB-27)     : 02 04 FFFF 0002 > 02 84 02
05 on (MB-05)                         : 01 05 00AC FF00 > 01 05 00AC FF00 ; 01 01 00AC 0001 > 01 01 01 01
05 off                                : 01 05 0001 0000 > 01 05 0001 0000 ; 01 01 0001 0001 > 01 01 01 00
05 on twice                           : 01 05 0002 FF00 > 01 05 0002 FF00 ; 01 05 0002 FF00 > 01 05 0002 FF00 ; 01 01 0002 0001 > 01 01 01 01
05 leaves its neighbours              : 01 05 0004 FF00 > 01 05 0004 FF00 ; 01 01 0000 0008 > 01 01 01 BA
05 value 0001 (MB-25)                 : 01 05 0000 0001 > 01 85 03 ; 01 01 0000 0001 > 01 01 01 00
05 value FF01 (MB-25)                 : 01 05 0000 FF01 > 01 85 03 ; 01 01 0000 0001 > 01 01 01 00
05 value 00FF (MB-25)                 : 01 05 0001 00FF > 01 85 03 ; 01 01 0001 0001 > 01 01 01 01
05 value FFFF (MB-25)                 : 01 05 0000 FFFF > 01 85 03 ; 01 01 0000 0001 > 01 01 01 00
05 past the device                    : 01 05 04A0 FF00 > 01 85 02
05 bad value past the device (MB-28)  : 01 05 04A0 0001 > 01 85 03
05 the last coil there is             : 02 05 FFFF 0000 > 02 05 FFFF 0000 ; 02 01 FFFF 0001 > 02 01 01 00
06 a value (MB-06)                    : 01 06 0001 0003 > 01 06 0001 0003 ; 01 03 0001 0001 > 01 03 02 0003
06 zero                               : 01 06 0001 0000 > 01 06 0001 0000 ; 01 03 0001 0001 > 01 03 02 0000
06 FFFF                               : 01 06 0001 FFFF > 01 06 0001 FFFF ; 01 03 0001 0001 > 01 03 02 FFFF
06 leaves its neighbours              : 01 06 0001 0BAD > 01 06 0001 0BAD ; 01 03 0000 0003 > 01 03 06 0000 0BAD 0002
06 does not touch the input table     : 01 06 0001 0BAD > 01 06 0001 0BAD ; 01 04 0001 0001 > 01 04 02 8001
06 past the device                    : 01 06 04A0 0001 > 01 86 02
06 the last register there is         : 02 06 FFFF 0001 > 02 06 FFFF 0001 ; 02 03 FFFF 0001 > 02 03 02 0001
06 reaches its unit only              : 01 06 0001 0BAD > 01 06 0001 0BAD ; 02 03 0001 0001 > 02 03 02 0001
0F ten coils (MB-07)                  : 01 0F 0013 000A 02 CD01 > 01 0F 0013 000A ; 01 01 0013 000A > 01 01 02 CD 01
0F one coil                           : 01 0F 0000 0001 01 01 > 01 0F 0000 0001 ; 01 01 0000 0002 > 01 01 01 03
0F ignores the bits past the quantity : 01 0F 0000 0001 01 FE > 01 0F 0000 0001 ; 01 01 0000 0008 > 01 01 01 AA
0F eight coils                        : 01 0F 0000 0008 01 55 > 01 0F 0000 0008 ; 01 01 0000 0008 > 01 01 01 55
0F 1968 coils (MB-22)                 : 02 0F 0000 07B0 F6 FF*246 > 02 0F 0000 07B0 ; 02 01 07A8 0010 > 02 01 02 FF AA
0F 1969 coils (MB-22)                 : 02 0F 0000 07B1 F7 FF*247 > 02 8F 03
0F no coil (MB-22)                    : 01 0F 0000 0000 00 > 01 8F 03
0F byte count too large (MB-26)       : 01 0F 0000 000A 03 CD01 00 > 01 8F 03 ; 01 01 0000 0008 > 01 01 01 AA
0F byte count too small (MB-26)       : 01 0F 0000 000A 01 CD > 01 8F 03 ; 01 01 0000 0008 > 01 01 01 AA
0F past the device                    : 01 0F 049F 0002 01 03 > 01 8F 02 ; 01 01 049F 0001 > 01 01 01 01
0F past the address space (MB-27)     : 02 0F FFFF 0002 01 00 > 02 8F 02 ; 02 01 FFFF 0001 > 02 01 01 01
0F the last coil there is             : 02 0F FFFF 0001 01 00 > 02 0F FFFF 0001 ; 02 01 FFFF 0001 > 02 01 01 00
10 two registers (MB-08)              : 01 10 0001 0002 04 000A 0102 > 01 10 0001 0002 ; 01 03 0000 0004 > 01 03 08 0000 000A 0102 0003
10 one register                       : 01 10 0000 0001 02 BEEF > 01 10 0000 0001 ; 01 03 0000 0002 > 01 03 04 BEEF 0001
10 123 registers (MB-23)              : 05 10 0000 007B F6 5A*246 > 05 10 0000 007B ; 05 03 007A 0002 > 05 03 04 5A5A A5A5
10 no register (MB-23)                : 01 10 0000 0000 00 > 01 90 03
10 byte count too small (MB-26)       : 01 10 0000 0002 02 000A > 01 90 03 ; 01 03 0000 0001 > 01 03 02 0000
10 byte count too large (MB-26)       : 01 10 0000 0001 04 000A 0102 > 01 90 03 ; 01 03 0000 0001 > 01 03 02 0000
10 byte count odd                     : 01 10 0000 0001 03 000A 01 > 01 90 03 ; 01 03 0000 0001 > 01 03 02 0000
10 quantity that wraps a byte count   : 01 10 0000 0081 02 000A > 01 90 03 ; 01 03 0000 0001 > 01 03 02 0000
10 past the device, all or none       : 01 10 049F 0002 04 0001 0002 > 01 90 02 ; 01 03 049F 0001 > 01 03 02 049F
10 past the address space (MB-27)     : 02 10 FFFF 0002 04 0001 0002 > 02 90 02 ; 02 03 FFFF 0001 > 02 03 02 FFFF
10 the last register there is         : 02 10 FFFF 0001 02 0001 > 02 10 FFFF 0001 ; 02 03 FFFF 0001 > 02 03 02 0001
10 bad quantity past the end (MB-28)  : 01 10 FFFF 0000 00 > 01 90 03
11 report server id (6.13)            : 01 11 > 01 11 0F 01 FF 4F76656E 206E6F727468 20 31 2E
11 with a byte too many               : 01 11 00 > 01 91 03
11 of a unit without it               : 03 11 > 03 91 01
16 the specification's masks (MB-09)  : 01 06 0004 0012 > 01 06 0004 0012 ; 01 16 0004 00F2 0025 > 01 16 0004 00F2 0025 ; 01 03 0004 0001 > 01 03 02 0017
16 keeps all                          : 01 16 0004 FFFF 0000 > 01 16 0004 FFFF 0000 ; 01 03 0004 0001 > 01 03 02 0004
16 clears all                         : 01 16 0004 0000 0000 > 01 16 0004 0000 0000 ; 01 03 0004 0001 > 01 03 02 0000
16 sets all                           : 01 16 0004 0000 FFFF > 01 16 0004 0000 FFFF ; 01 03 0004 0001 > 01 03 02 FFFF
16 OR acts only where AND is 0 (MB-10): 01 16 0004 FFFF FFFF > 01 16 0004 FFFF FFFF ; 01 03 0004 0001 > 01 03 02 0004
16 past the device                    : 01 16 04A0 FFFF 0000 > 01 96 02
16 a byte short                       : 01 16 0004 00F2 00 > 01 96 03
16 a byte too many                    : 01 16 0004 00F2 0025 00 > 01 96 03 ; 01 03 0004 0001 > 01 03 02 0004
17 reads and writes (MB-11's windows) : 01 17 0003 0006 000E 0003 06 00FF 00FF 00FF > 01 17 0C 0003 0004 0005 0006 0007 0008 ; 01 03 000D 0005 > 01 03 0A 000D 00FF 00FF 00FF 0011
17 writes first (MB-12)               : 01 17 0014 0002 0014 0002 04 00AA 00BB > 01 17 04 00AA 00BB
17 overlaps in part                   : 01 17 0014 0003 0015 0001 02 00AA > 01 17 06 0014 00AA 0016
17 125 read (MB-24)                   : 05 17 0000 007D 0100 0001 02 0000 > 05 17 FA A5*250
17 126 read (MB-24)                   : 05 17 0000 007E 0000 0001 02 0000 > 05 97 03
17 none read (MB-24)                  : 05 17 0000 0000 0000 0001 02 0000 > 05 97 03
17 121 written (MB-24)                : 05 17 0078 0002 0000 0079 F2 5A*242 > 05 17 04 5A5A A5A5
17 none written (MB-24)               : 05 17 0000 0001 0000 0000 00 > 05 97 03
17 byte count wrong                   : 01 17 0000 0001 0000 0002 02 0009 > 01 97 03 ; 01 03 0000 0001 > 01 03 02 0000
17 reads past the device              : 01 17 049F 0002 0000 0001 02 0009 > 01 97 02 ; 01 03 0000 0001 > 01 03 02 0000
17 writes past the device             : 01 17 0000 0001 049F 0002 04 0009 0009 > 01 97 02 ; 01 03 049F 0001 > 01 03 02 049F
17 reads past the address space       : 02 17 FFFF 0002 0000 0001 02 0009 > 02 97 02 ; 02 03 0000 0001 > 02 03 02 0000
17 writes past the address space      : 02 17 0000 0001 FFFF 0002 04 0009 0009 > 02 97 02 ; 02 03 0000 0001 > 02 03 02 0000
18 the queue (MB-16)                  : 01 18 04DE > 01 18 0006 0002 01B8 1284
18 a byte short                       : 01 18 04 > 01 98 03
18 of a unit without one              : 03 18 0000 > 03 98 01
2B basic (MB-14)                      : 01 2B 0E 01 00 > 01 2B 0E 01 01 00 00 03 00 04 4F76656E 01 05 6E6F727468 02 02 312E
2B regular, which the unit has not    : 01 2B 0E 02 00 > 01 2B 0E 02 01 00 00 03 00 04 4F76656E 01 05 6E6F727468 02 02 312E
2B from the third object              : 01 2B 0E 01 02 > 01 2B 0E 01 01 00 00 01 02 02 312E
2B from an object that is not there   : 01 2B 0E 01 77 > 01 2B 0E 01 01 00 00 03 00 04 4F76656E 01 05 6E6F727468 02 02 312E
2B object by object                   : 01 2B 0E 04 00 > 01 AB 03
2B no such code                       : 01 2B 0E 00 00 > 01 AB 03
2B another interface                  : 01 2B 0D 00 00 > 01 AB 01
2B a byte short                       : 01 2B 0E 01 > 01 AB 03
2B of a unit without identification   : 03 2B 0E 01 00 > 03 AB 01
07 is not built (MB-18)               : 01 07 > 01 87 01
08 is not built (MB-18)               : 01 08 0000 A537 > 01 88 01
0B is not built (MB-18)               : 01 0B > 01 8B 01
0C is not built (MB-18)               : 01 0C > 01 8C 01
14 is not built (MB-18)               : 01 14 07 06 0004 0001 0002 > 01 94 01
15 is not built                       : 01 15 09 06 0004 0007 0001 06AF > 01 95 01
00 is no function                     : 01 00 0000 0001 > 01 80 01
09 is no function (MB-28)             : 01 09 FFFF 0000 > 01 89 01
41 is a user's function               : 01 41 01 > 01 C1 01
7F is no function                     : 01 7F > 01 FF 01
80 is an exception, no request        : 01 80 01 > 01 80 01
83 is an exception, no request        : 01 83 02 > 01 83 01
FF is an exception, no request        : 01 FF 00 > 01 FF 01
03 a byte short                       : 01 03 0000 00 > 01 83 03
03 a byte too many                    : 01 03 0000 0001 00 > 01 83 03
03 no data                            : 01 03 > 01 83 03
01 no data                            : 01 01 > 01 81 03
05 a byte short                       : 01 05 0000 FF > 01 85 03 ; 01 01 0000 0001 > 01 01 01 00
06 a byte short                       : 01 06 0000 12 > 01 86 03 ; 01 03 0000 0001 > 01 03 02 0000
06 a byte too many                    : 01 06 0000 1234 56 > 01 86 03 ; 01 03 0000 0001 > 01 03 02 0000
0F no data                            : 01 0F 0000 000A > 01 8F 03
0F data short                         : 01 0F 0000 000A 02 CD > 01 8F 03 ; 01 01 0000 0008 > 01 01 01 AA
10 no data                            : 01 10 0000 0001 > 01 90 03
10 data short                         : 01 10 0000 0002 04 000A 01 > 01 90 03 ; 01 03 0000 0001 > 01 03 02 0000
10 data long                          : 01 10 0000 0001 02 000A 0B > 01 90 03 ; 01 03 0000 0001 > 01 03 02 0000
17 no data                            : 01 17 0000 0001 > 01 97 03
quantity before address (MB-28)       : 01 03 FFFF 0000 > 01 83 03
address before processing (MB-28)     : 04 03 FFFF 0002 > 04 83 02
exception 01 of a device (MB-29)      : 04 03 0001 0001 > 04 83 01
exception 02 of a device (MB-29)      : 04 03 0002 0001 > 04 83 02
exception 03 of a device (MB-29)      : 04 03 0003 0001 > 04 83 03
exception 04 of a device (MB-29)      : 04 03 0004 0001 > 04 83 04
exception 05 of a device (MB-29)      : 04 03 0005 0001 > 04 83 05
exception 06 of a device (MB-29)      : 04 03 0006 0001 > 04 83 06
exception 08 of a device (MB-29)      : 04 04 0008 0001 > 04 84 08
exception 0A of a device (MB-29)      : 04 04 000A 0001 > 04 84 0A
exception 0B of a device (MB-29)      : 04 04 000B 0001 > 04 84 0B
unit 3 has the last of eight          : 03 03 0007 0001 > 03 03 02 0007
unit 3 has no ninth                   : 03 03 0008 0001 > 03 83 02
`

// tcpCases are bytes on a TCP connection. The source is the Messaging on TCP/IP
// Implementation Guide V1.0b, clause 3.1.3, or this package's stated choice.
const tcpCases = `
header (MB-40, MB-41)                 : 0001 0000 0006 01 03 0007 0001 > 0001 0000 0005 01 03 02 0007
transaction and unit come back (MB-42): 1234 0000 0006 02 03 0007 0001 > 1234 0000 0005 02 03 02 0007
transaction 0000                      : 0000 0000 0006 01 03 0007 0001 > 0000 0000 0005 01 03 02 0007
transaction FFFF                      : FFFF 0000 0006 01 03 0007 0001 > FFFF 0000 0005 01 03 02 0007
the same transaction twice            : 0005 0000 0006 01 03 0007 0001 0005 0000 0006 01 03 0008 0001 > 0005 0000 0005 01 03 02 0007 0005 0000 0005 01 03 02 0008
protocol 0001 (MB-43)                 : 0001 0001 0006 01 03 0007 0001 > none
protocol 0100 (MB-43)                 : 0001 0100 0006 01 06 0007 0001 > none ; 0001 0000 0006 01 03 0007 0001 > 0001 0000 0005 01 03 02 0007
protocol FFFF (MB-43)                 : 0001 FFFF 0006 01 03 0007 0001 > none
protocol 0001, then a good frame      : 0001 0001 0006 01 03 0007 0001 0002 0000 0006 01 03 0008 0001 > 0002 0000 0005 01 03 02 0008
length 0000 (MB-44)                   : 0001 0000 0000 > closed
length 0001 (MB-44)                   : 0001 0000 0001 01 > closed
length 00FF (MB-44)                   : 0001 0000 00FF 01 03 0007 0001 > closed
length FFFF (MB-44)                   : 0001 0000 FFFF 01 03 0007 0001 > closed
length 0006, a byte missing (MB-44)   : 0001 0000 0006 01 03 0007 00 > none ; 01 > 0001 0000 0005 01 03 02 0007
a header and nothing (MB-44)          : 0001 0000 0006 > none ; 01 03 0007 0001 > 0001 0000 0005 01 03 02 0007
one byte, then the rest               : 00 > none ; 01 0000 0006 01 03 0007 0001 > 0001 0000 0005 01 03 02 0007
length one too small                  : 0001 0000 0005 01 03 0007 00 > 0001 0000 0003 01 83 03
length one too large (30 bytes PDU)   : 0001 0000 0007 01 03 0007 0001 00 > 0001 0000 0003 01 83 03
function alone                        : 0001 0000 0002 01 03 > 0001 0000 0003 01 83 03
exception (MB-46)                     : 00C8 0000 0006 02 03 0000 007E > 00C8 0000 0003 02 83 03
two requests in one segment (MB-47)   : 0001 0000 0006 01 06 0007 0009 0002 0000 0006 01 03 0007 0001 > 0001 0000 0006 01 06 0007 0009 0002 0000 0005 01 03 02 0009
one request in two segments (MB-47)   : 0001 0000 0006 01 03 > none ; 0007 0001 > 0001 0000 0005 01 03 02 0007
one and a half requests               : 0001 0000 0006 01 03 0007 0001 0002 0000 0006 01 > 0001 0000 0005 01 03 02 0007 ; 03 0008 0001 > 0002 0000 0005 01 03 02 0008
unit 0 of several, a read             : 0001 0000 0006 00 03 0000 0001 > 0001 0000 0003 00 83 0B
unit 0 of several, a write            : 0001 0000 0006 00 06 0007 0BAD > none ; 0002 0000 0006 01 03 0007 0001 > 0002 0000 0005 01 03 02 0BAD ; 0003 0000 0006 02 03 0007 0001 > 0003 0000 0005 02 03 02 0BAD
unit 0 of several, a wrong write      : 0001 0000 0005 00 06 0007 0B > none ; 0002 0000 0006 01 03 0007 0001 > 0002 0000 0005 01 03 02 0007
unit 255 of several                   : 0001 0000 0006 FF 03 0000 0001 > 0001 0000 0003 FF 83 0B
a unit that is not served             : 0001 0000 0006 09 03 0000 0001 > 0001 0000 0003 09 83 0B
no function of a unit not served      : 0001 0000 0002 09 7F > 0001 0000 0003 09 FF 0B
the largest frame (MB-30)             : 0001 0000 00FE 02 0F 0000 07B1 F7 00*247 > 0001 0000 0003 02 8F 03
124 registers in the largest frame (MB-23) : 0001 0000 00FE 02 10 0000 007C F8 00*247 > 0001 0000 0003 02 90 03
122 registers of 17 in the largest frame (MB-24) : 0001 0000 00FE 02 17 0000 0001 0000 007A F4 00*243 > 0001 0000 0003 02 97 03
noise                                 : DEADBEEFDEADBEEFDEADBEEF > closed
an HTTP request                       : 474554202F20485454502F312E310D0A0D0A > closed
zeros                                 : 00*20 > closed
good, then noise                      : 0001 0000 0006 01 03 0007 0001 FF*12 > 0001 0000 0005 01 03 02 0007 closed
`

// rtuCases are bytes on a line; ~ stands for the checksum of what is before it
// back to the step's beginning or the last bar. The source is MODBUS over
// Serial Line V1.02, clauses 2.4.1, 2.5.1.1 and 2.5.1.2, or this package's
// stated choice.
const rtuCases = `
known checksum (MB-53)                : 01 03 0000 0002 C40B > 01 03 04 0000 0001 ~
checksum bytes swapped                : 01 03 0000 0002 0BC4 > none
checksum zero                         : 01 03 0000 0002 0000 > none
first bit of the checksum (MB-62)     : 01 03 0000 0002 C40A > none
last bit of the checksum (MB-62)      : 01 03 0000 0002 440B > none
a bit of the data (MB-62)             : 01 03 0000 0003 C40B > none
a write with a bad checksum           : 01 06 0007 0BAD 0000 > none ; 01 03 0007 0001 ~ > 01 03 02 0007 ~
another unit (MB-62)                  : 09 03 0000 0001 ~ > none
a reserved unit                       : FF 03 0000 0001 ~ > none
no function of another unit           : 09 7F ~ > none
broadcast write (MB-61)               : 00 06 0003 ABCD C6BE > none ; 01 03 0003 0001 ~ > 01 03 02 ABCD ~ ; 02 03 0003 0001 ~ > 02 03 02 ABCD ~
broadcast of several (MB-61)          : 00 10 0003 0001 02 ABCD ~ > none ; 01 03 0003 0001 ~ > 01 03 02 ABCD ~
broadcast coil                        : 00 05 0000 FF00 ~ > none ; 01 01 0000 0001 ~ > 01 01 01 01 ~
broadcast coils                       : 00 0F 0000 0008 01 00 ~ > none ; 01 01 0000 0008 ~ > 01 01 01 00 ~
broadcast mask                        : 00 16 0004 0000 0000 ~ > none ; 01 03 0004 0001 ~ > 01 03 02 0000 ~
broadcast read                        : 00 03 0000 0001 ~ > none
broadcast read and write              : 00 17 0000 0001 0000 0001 02 0BAD ~ > none ; 01 03 0000 0001 ~ > 01 03 02 0000 ~
broadcast of no function              : 00 41 ~ > none
broadcast refused by all              : 00 06 FFFF 0001 ~ > none ; 01 03 0007 0001 ~ > 01 03 02 0007 ~
one byte                              : 01 > none
the unit's number, many times         : 01*300 > none
half a frame, then a whole one        : 01 03 0000 > none ; 01 03 0007 0001 ~ > 01 03 02 0007 ~
noise, then a frame                   : DEADBEEF > none ; 01 03 0007 0001 ~ > 01 03 02 0007 ~
a line of zeros                       : 00*64 > none
a line of ones                        : FF*64 > none
two frames in one piece               : 01 06 0007 0009 ~ | 01 03 0007 0001 ~ > 01 06 0007 0009 ~ | 01 03 02 0009 ~
a frame for another, then one         : 09 03 0007 0001 ~ | 01 03 0007 0001 ~ > 01 03 02 0007 ~
a broadcast, then a read in one piece : 00 06 0007 0009 ~ | 01 03 0007 0001 ~ > 01 03 02 0009 ~
a reply of another unit               : 09 03 04 0001 0002 ~ > none
a request in MBAP framing             : 0001 0000 0006 01 03 0007 0001 > none
the largest frame (MB-30)             : 02 0F 0000 07B1 F7 00*247 ~ > 02 8F 03 ~
a frame of 257 bytes (MB-30)          : 02 0F 0000 07B9 F8 00*248 ~ > none
a frame inside bad data               : 01 10 0010 0004 08 01 06 0007 0BAD FE86 0000 > none ; 01 03 0007 0001 ~ > 01 03 02 0007 ~
`
