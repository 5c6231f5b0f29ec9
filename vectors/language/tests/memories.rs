//! Memory arrays are read and checked.

mod support;

use dipsift_language::{Library, Moment, Output, Role};
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

#[test]
fn times_hold_for_every_grade_or_one_for_each() {
    let text = STATIC.to_owned() + "timing\n  select 70ns 100ns 120ns\n  hold 10ns\n";
    let part = part(&text);
    let memory = part.memory.as_ref().unwrap();
    let time = |moment, access| memory.time_ns(moment, access);
    assert_eq!(time(Moment::Select, 200), Some(70));
    assert_eq!(time(Moment::Select, 450), Some(120));
    assert_eq!(time(Moment::Hold, 300), Some(10));
    // Between two grades the slower one counts; beyond the slowest there is none.
    assert_eq!(time(Moment::Select, 201), Some(100));
    assert_eq!(time(Moment::Select, 451), None);
    assert_eq!(time(Moment::Cycle, 200), None);
}

/// NEC's reading of the 2114 marks: electrelic.com, node 41; the usual one: Intel 2114 data sheet,
/// from memory.
#[test]
fn a_mark_that_makers_read_differently_has_no_time_of_its_own() {
    let text = STATIC.replace("grade -2", "grade -25 250ns -15 150ns -2")
        + "grade UPD: -2 250ns -3 200ns -5 150ns\ngrade MM: -3 300ns\n";
    let part = part(&text);
    let memory = part.memory.as_ref().unwrap();
    for (prefix, mark, expected) in [
        (Some("UPD"), "2", Some(250)),
        (Some("MM"), "2", Some(200)),
        (None, "2", None),
        (None, "5", Some(150)),
        (Some("MM"), "5", None),
        (None, "25", Some(250)),
        (None, "", Some(450)),
        (None, "9", None),
    ] {
        assert_eq!(memory.access_ns(prefix, mark), expected, "{prefix:?} -{mark}");
    }
    let readings = [(None, 300), (Some("UPD"), 200), (Some("MM"), 300)];
    assert_eq!(memory.readings("3"), readings);
    assert!(memory.knows_mark("5") && !memory.knows_mark("9"));
    assert_eq!(memory.marks(), ["25", "15", "2", "3", "5"]);
}

/// Address latch: Mostek MK4118A data sheet, from memory.
#[test]
fn latch_and_physical_order() {
    let text = STATIC.replace(
        "  write   while CS & WE\n",
        "  write   while CS & WE\n  latch   while CS\n  array   row A9..A4 column A3..A0\n",
    );
    let mut bench = Bench::new(&text);
    let memory = bench.part.memory.clone().unwrap();
    let latch = memory.latch.unwrap();
    for (levels, held) in [("/CS=0 /WE=1", true), ("/CS=1 /WE=1", false)] {
        bench.set(levels);
        assert_eq!(bench.machine.node(latch).known(), Some(held), "{levels}");
    }
    let array = memory.array.unwrap();
    assert_eq!((array.row.len(), array.column.len()), (6, 4));
    assert_eq!(array.row[0], memory.address[0]);
}

/// Row and column of the 4416: TI TMS4416 data sheet, from memory; half-good types: TI TMS4532
/// data sheet, from memory.
#[test]
fn columns_and_halves_of_dynamic_memories() {
    let library = Library::builtin();
    let memory = |number: &str| library.part(number).unwrap().memory.clone().unwrap();
    let quarter = memory("4416");
    assert_eq!((quarter.address.len(), quarter.column.len()), (8, 6));
    let whole = memory("4164");
    assert_eq!(whole.column, whole.address);
    assert!(memory("2114").column.is_empty());
    let half = memory("4532RAM").half.unwrap();
    assert_eq!(
        (library.part("4532RAM").unwrap().pin(half.pin).name.as_str(), half.column),
        ("A7", false)
    );
    assert!(memory("3732").half.unwrap().column);
    let startup = whole.startup.unwrap();
    assert_eq!((startup.pause_us, startup.cycles), (200, 8));
}

/// Supplies of the 4116: pinout in the c64-wiki article on RAM.
#[test]
fn supplies_of_other_voltages() {
    let library = Library::builtin();
    let part = library.part("4116").unwrap();
    let foreign: Vec<_> = part.foreign_supplies().collect();
    assert_eq!(foreign, [("VBB", -5000), ("VDD", 12000)]);
    assert_eq!(part.pin(part.pin_named("VCC").unwrap()).role, Role::Supply);
    assert_eq!(part.pin(part.pin_named("VSS").unwrap()).role, Role::Ground);
    assert_eq!(library.part("4164").unwrap().foreign_supplies().count(), 0);
}
