//! Memories for tests, as descriptions.

pub const TEXT: &str = "\
part    16X4
title   16 x 4 static RAM, a part for tests
source  invented
made    NMOS
dip     A0 A1 A2 A3 /CS - GND /WE D1 D2 D3 D4 - VCC
limit   100 mA
memory 16 x 4
  address A3..A0
  data    D4..D1
  read    while CS & ~WE
  write   while CS & WE
grade   -2 200ns  none 450ns

part    16X1
title   16 x 1 static RAM with data in and out, a part for tests
source  invented
made    NMOS
dip     A0 A1 A2 A3 /CS DIN GND /WE DOUT - - - - VCC
limit   100 mA
memory 16 x 1
  address A3..A0
  data    in DIN out DOUT
  read    while CS & ~WE
  write   while CS & WE
grade   none 200ns

part    1KX4
title   1024 x 4 static RAM, common data pins
source  Intel 2114A data sheet, pinout, truth table and access times (from memory)
made    NMOS
dip     A6 A5 A4 A3 A0 A1 A2 /CS GND /WE D4 D3 D2 D1 A9 A8 A7 VCC
limit   100 mA
memory 1024 x 4
  address A9..A0
  data    D4..D1
  read    while CS & ~WE
  write   while CS & WE
grade   -2 200ns  -3 300ns  none 450ns

part    32KX8
title   32768 x 8 static RAM, common data pins
source  Hitachi HM62256 data sheet, pinout and truth table (from memory)
made    NMOS
dip     A14 A12 A7 A6 A5 A4 A3 A2 A1 A0 D0 D1 D2 GND
        D3 D4 D5 D6 D7 /CS A10 /OE A11 A9 A8 A13 /WE VCC
limit   100 mA
memory 32768 x 8
  address A14..A0
  data    D7..D0
  read    while CS & OE & ~WE
  write   while CS & WE
grade   -10 100ns
timing
  select  100ns
  enable  50ns
  release 35ns
  write   60ns
  setup   40ns

part    32X8
title   32 x 8 read-only memory, a part for tests
source  invented
made    NMOS
dip     D0 D1 D2 D3 D4 D5 D6 GND D7 A0 A1 A2 A3 A4 /CS VCC
limit   100 mA
memory 32 x 8
  address A4..A0
  data    D7..D0
  read    while CS
grade   none 100ns

part    64KX1
title   65536 x 1 dynamic RAM
source  TI TMS4164 data sheet, pinout and refresh (from memory)
made    NMOS
dip     - D /W /RAS A0 A2 A1 VCC A7 A5 A4 A3 A6 Q /CAS GND
limit   100 mA
memory 65536 x 1
  address A7..A0
  data    in D out Q
  strobe  /RAS /CAS
  read    while CAS & ~W
  write   while RAS & CAS & W
grade   -15 150ns
refresh 256 rows in 4ms

part    64KX1T like 64KX1
title   65536 x 1 dynamic RAM with its times
source  TI TMS4164 data sheet, times of the -15 (from memory)
grade   -15 150ns
timing
  row       150ns
  precharge 100ns
  setup     10ns
";
