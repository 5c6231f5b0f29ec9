//! Memory arrays are read and checked.

mod support;

use dipsift_language::{Output, Role};
use support::{Bench, part};

/// Pinout: Intel 2114A data sheet.
const STATIC: &str = "part 2114
title 1024 x 4 static RAM, common I/O
source Intel 2114A data sheet
made NMOS
dip A6 A5 A4 A3 A0 A1 A2 /CS GND /WE D4 D3 D2 D1 A9 A8 A7 VCC
memory 1024 x 4
  address A9..A0
  data    D4..D1
  read    while CS & ~WE
  write   while CS & WE
grade -2 200ns  -3 300ns  none 450ns
limit 100 mA
";

#[test]
fn static_memory_with_shared_data() {
    let mut bench = Bench::new(STATIC);
    let memory = bench.part.memory.clone().unwrap();
    assert_eq!((memory.words, memory.bits), (1024, 4));
    let names = |pins: &[dipsift_language::PinId]| {
        pins.iter().map(|pin| bench.part.pin(*pin).name.as_str()).collect::<Vec<_>>().join(" ")
    };
    assert_eq!(names(&memory.address), "A9 A8 A7 A6 A5 A4 A3 A2 A1 A0");
    assert_eq!(names(&memory.data_in), "D4 D3 D2 D1");
    assert_eq!(memory.data_in, memory.data_out);
    assert_eq!(memory.grades, [("2".to_owned(), 200), ("3".to_owned(), 300), (String::new(), 450)]);
    let data = bench.part.pin(memory.data_out[0]);
    assert_eq!((data.role, data.output), (Role::Bidirectional, Some(Output::ThreeState)));
    let (read, write) = (memory.read.unwrap(), memory.write.unwrap());
    for (levels, reads, writes) in
        [("/CS=0 /WE=1", true, false), ("/CS=0 /WE=0", false, true), ("/CS=1 /WE=0", false, false)]
    {
        bench.set(levels);
        assert_eq!(bench.machine.node(read).known(), Some(reads), "{levels}");
        assert_eq!(bench.machine.node(write).known(), Some(writes), "{levels}");
    }
}

#[test]
fn dynamic_memory_with_strobes_and_separate_data() {
    let part = part(
        "part 4164
title 65536 x 1 dynamic RAM
source an invented sheet
made NMOS
dip - DIN /WE /RAS A0 A2 A1 VCC A7 A5 A4 A3 A6 DOUT /CAS GND
memory 65536 x 1
  address A7..A0
  data in DIN out DOUT
  read    while CAS & ~WE
  write   while CAS & WE
  strobe  /RAS /CAS
refresh 128 rows in 2ms
",
    );
    let memory = part.memory.as_ref().unwrap();
    let name = |pin: dipsift_language::PinId| part.pin(pin).name.as_str();
    assert_eq!(memory.strobes.iter().map(|pin| name(*pin)).collect::<Vec<_>>(), ["/RAS", "/CAS"]);
    assert_eq!(memory.refresh, Some((128, 2000)));
    assert_eq!(part.pin(memory.data_in[0]).role, Role::Input);
    assert_eq!(part.pin(memory.data_out[0]).role, Role::Output);
}

#[test]
fn memory_that_is_only_read() {
    let text = STATIC.replace("  write   while CS & WE\n", "").replace("CS & ~WE", "CS | WE");
    let part = part(&text);
    let memory = part.memory.as_ref().unwrap();
    assert!(memory.data_in.is_empty() && memory.write.is_none());
    assert_eq!(part.pin(memory.data_out[0]).role, Role::Output);
}
