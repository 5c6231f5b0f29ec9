//! Registers, latches, counters and their clocks.

mod support;

use dipsift_language::{Settled, StateId, Word};
use support::{Bench, invented};

/// The function table of the maker: TI SDLS119, SN7474.
#[test]
fn dual_flip_flop() {
    let mut bench = Bench::new(
        "part 7474
title dual D-type flip-flop
source TI SDLS119
made 74
dip /1CLR 1D 1CLK /1PRE 1Q /1Q GND /2Q 2Q /2PRE 2CLK 2D /2CLR VCC
for n in 1 2
  state nFF
  when nPRE & nCLR  nFF := ?
  when nPRE         nFF := 1
  when nCLR         nFF := 0
  on rise nCLK      nFF := nD
  nQ  =  nFF | nPRE
  /nQ = ~nFF | nCLR
",
    );
    bench.set("/1CLR=1 /1PRE=1 1CLK=0 1D=0 /2CLR=1 /2PRE=1 2CLK=0 2D=1");
    assert_eq!(bench.seen("1Q /1Q 2Q /2Q"), "XXXX", "power-up is unknown");
    assert_eq!(bench.set("/1PRE=0").seen("1Q /1Q"), "HL");
    assert_eq!(bench.set("/1PRE=1").seen("1Q /1Q"), "HL");
    assert_eq!(bench.set("/1CLR=0").seen("1Q /1Q"), "LH");
    assert_eq!(bench.set("/1PRE=0").seen("1Q /1Q"), "HH", "both asserted");
    assert_eq!(bench.set("/1CLR=1 /1PRE=1").seen("1Q /1Q"), "XX", "released together");
    assert_eq!(bench.pulse("1CLK").seen("1Q /1Q"), "LH");
    assert_eq!(bench.set("1D=1").seen("1Q /1Q"), "LH");
    assert_eq!(bench.set("1CLK=1").seen("1Q /1Q"), "HL", "at the rising edge");
    assert_eq!(bench.set("1D=0").set("1CLK=0").seen("1Q /1Q"), "HL", "not at the falling edge");
    assert_eq!(bench.seen("2Q /2Q"), "XX", "the other half is on its own");
    assert_eq!(bench.pulse("2CLK").seen("2Q /2Q"), "HL");
}

/// Count sequence and set inputs: TI SDLS940, SN7490A.
#[test]
fn decade_counter_with_stages_clocked_by_others() {
    let mut bench = Bench::new(
        "part 7490
title decade counter
source TI SDLS940
made 74
dip CKB R01 R02 - VCC R91 R92 QC QB GND QD QA - CKA
state QA QB QC QD
when R91 & R92  QA QB QC QD := 1 0 0 1
when R01 & R02  QA QB QC QD := 0 0 0 0
on fall CKA     QA := ~QA
on fall CKB     QB := ~QB & ~QD
                QD := QB & QC
on fall QB      QC := ~QC
",
    );
    bench.set("CKA=1 CKB=1 R01=1 R02=1 R91=0 R92=0");
    assert_eq!(bench.seen("QD QC QB QA"), "LLLL");
    bench.set("R01=0");
    let mut fifths = Vec::new();
    for _ in 0..6 {
        fifths.push(bench.pulse("CKB").seen("QD QC QB"));
    }
    assert_eq!(fifths, ["LLH", "LHL", "LHH", "HLL", "LLL", "LLH"]);
    assert_eq!(bench.pulse("CKA").seen("QA"), "H");
    assert_eq!(bench.pulse("CKA").seen("QA"), "L");
    assert_eq!(bench.set("R91=1 R92=1 R01=1").seen("QD QC QB QA"), "HLLH", "nine wins");
}

/// Each stage takes what the other had just before the edge that both see in turn.
#[test]
fn a_stage_clocked_by_another_takes_values_from_before_the_edge() {
    let mut bench = Bench::new(&invented(
        "CLK D CLR Q0 Q1",
        "state Q0 Q1\nwhen CLR Q0 Q1 := 0 0\non rise CLK Q0 := D\non rise Q0 Q1 := ~Q0 & D\n",
    ));
    bench.set("CLK=0 D=1 CLR=1").set("CLR=0");
    assert_eq!(bench.set("CLK=1").seen("Q0 Q1"), "HH");
}

#[test]
fn data_that_changes_with_the_clock_counts_as_it_was() {
    let mut bench = Bench::new(&invented("CLK D Q", "state Q\non rise CLK Q := D\n"));
    bench.set("CLK=0 D=0");
    assert_eq!(bench.set("CLK=1 D=1").seen("Q"), "L");
}

#[test]
fn ripple_counter_against_arithmetic() {
    let mut text =
        String::from("for n in 0..11\n  state Qn\n  when CLR Qn := 0\non fall CLK Q0 := ~Q0\n");
    for stage in 1..12 {
        text += &format!("on fall Q{} Q{stage} := ~Q{stage}\n", stage - 1);
    }
    let mut bench = Bench::new(&invented("CLK CLR Q0..Q11", &text));
    bench.set("CLK=0 CLR=1").set("CLR=0");
    for count in 1..=4097_u32 {
        bench.pulse("CLK");
        if count.is_power_of_two() || count % 97 == 0 || count > 4090 {
            let expected: String =
                (0..12).map(|bit| if count >> bit & 1 == 1 { 'H' } else { 'L' }).collect();
            let names: Vec<_> = (0..12).map(|bit| format!("Q{bit}")).collect();
            assert_eq!(bench.seen(&names.join(" ")), expected, "after {count}");
        }
    }
}

#[test]
fn transparent_latch_with_three_state() {
    let mut bench =
        Bench::new(&invented("D LE /OC Q", "state FF\nwhen LE FF := D\nQ = FF while OC\n"));
    assert_eq!(bench.set("D=1 LE=1 /OC=0").seen("Q"), "H");
    assert_eq!(bench.set("D=0").seen("Q"), "L", "transparent");
    assert_eq!(bench.set("LE=0").set("D=1").seen("Q"), "L", "kept");
    assert_eq!(bench.set("/OC=1").seen("Q"), "Z");
    assert_eq!(bench.set("/OC=X").seen("Q"), "?");
    assert_eq!(bench.set("/OC=0 LE=X").seen("Q"), "X", "low or high");
    assert_eq!(bench.set("D=0").set("LE=0").seen("Q"), "X", "it may have followed D to high");
    assert_eq!(bench.set("LE=1").set("LE=X").seen("Q"), "L", "both cases agree");
}

#[test]
fn gated_clock_and_condition() {
    let mut bench = Bench::new(&invented(
        "CLK INH EN D P Q",
        "state P Q\non rise CLK & ~INH P := D\non rise CLK if EN Q := D\n",
    ));
    bench.set("CLK=0 INH=0 EN=1 D=0").pulse("CLK");
    assert_eq!(bench.seen("P Q"), "LL");
    assert_eq!(bench.set("D=1 INH=1 EN=0").pulse("CLK").seen("P Q"), "LL", "both held");
    assert_eq!(bench.set("CLK=1").set("INH=0").seen("P Q"), "HL", "the gate itself clocks");
    assert_eq!(bench.set("CLK=0 EN=X").pulse("CLK").seen("Q"), "X", "perhaps taken");
    assert_eq!(bench.set("EN=1").pulse("CLK").seen("Q"), "H");
    assert_eq!(bench.set("EN=X").pulse("CLK").seen("Q"), "H", "both cases agree");
}

#[test]
fn a_clock_that_may_have_moved_leaves_what_both_cases_agree_on() {
    let text = invented("CLK D Q", "state Q\non rise CLK Q := D\n");
    let mut bench = Bench::new(&text);
    bench.set("CLK=0 D=1").pulse("CLK");
    assert_eq!(bench.set("CLK=X").seen("Q"), "H", "D and Q agree");
    assert_eq!(bench.set("D=0").seen("Q"), "X", "an edge may come at any time");
    assert_eq!(bench.set("CLK=1").seen("Q"), "X");
    assert_eq!(bench.set("CLK=0").pulse("CLK").seen("Q"), "L");
    // From unknown to low there is no rising edge, from unknown to high there may be one.
    let mut bench = Bench::new(&text);
    bench.set("CLK=0 D=1").pulse("CLK").set("D=0");
    bench.machine.apply(bench.part.pin_named("CLK").unwrap(), Word::lanes(0));
    assert_eq!(bench.set("D=0").seen("Q"), "H");
}

#[test]
fn lanes_are_independent() {
    let mut bench = Bench::new(&invented("CLK D Q", "state Q\non rise CLK Q := D\n"));
    let [clock, data, q] = ["CLK", "D", "Q"].map(|name| bench.part.pin_named(name).unwrap());
    bench.set("CLK=0 D=0").pulse("CLK");
    bench.machine.apply(data, Word::lanes(0b0110));
    bench.machine.settle();
    bench.machine.apply(clock, Word::lanes(0b0011));
    bench.machine.settle();
    assert_eq!(bench.machine.driven(q).0, Word::lanes(0b0010));
}

#[test]
fn up_down_counter_with_two_clocks_and_groups() {
    let mut bench = Bench::new(&invented(
        "UP DOWN D C B A QD QC QB QA /LOAD /CO /BO CLR",
        "state QD QC QB QA
group Q = QD QC QB QA
when CLR             Q := 0
when LOAD            Q := D C B A
on rise UP   if DOWN Q := Q + 1
on rise DOWN if UP   Q := Q - 1
CO = (Q == 15) & ~UP
BO = (Q == 0)  & ~DOWN
",
    ));
    bench.set("UP=1 DOWN=1 D=1 C=1 B=0 A=1 /LOAD=0 CLR=0");
    assert_eq!(bench.seen("QD QC QB QA /CO /BO"), "HHLHHH");
    bench.set("/LOAD=1");
    assert_eq!(bench.pulse("UP").seen("QD QC QB QA"), "HHHL");
    assert_eq!(bench.pulse("UP").seen("QD QC QB QA /CO"), "HHHHH");
    assert_eq!(bench.set("UP=0").seen("QD QC QB QA /CO"), "HHHHL", "carry in the low half");
    assert_eq!(bench.set("UP=1").seen("QD QC QB QA /CO"), "LLLLH");
    assert_eq!(bench.set("DOWN=0").seen("/BO"), "L");
    assert_eq!(bench.set("DOWN=1").seen("QD QC QB QA"), "HHHH");
    assert_eq!(bench.set("CLR=1 /LOAD=0").seen("QD QC QB QA"), "LLLL", "the first that holds");
}

#[test]
fn a_ring_that_clocks_itself_is_unknown_in_its_lane_only() {
    // While EN is high the register follows its own inverse without end.
    let mut bench = Bench::new(&invented("EN D Q", "state Q\nwhen EN Q := ~Q\nwhen D Q := 0\n"));
    assert_eq!(bench.set("EN=0 D=1").set("D=0").seen("Q"), "L");
    assert_eq!(bench.settled, Settled::Stable);
    let enable = bench.part.pin_named("EN").unwrap();
    bench.machine.apply(enable, Word::lanes(0b10));
    assert_eq!(bench.machine.settle(), Settled::Oscillates);
    let q = bench.machine.state(StateId(0));
    assert_eq!((q.unknown(), q.low), (0b10, u64::MAX), "lane 0 stays low");
    assert_eq!(bench.machine.settle(), Settled::Stable, "unknown is at rest");
}

#[test]
fn chosen_power_up_content_is_kept() {
    let mut bench =
        Bench::new(&invented("CLK Q P", "state Q P\non rise CLK Q := ~Q\non fall Q P := ~P\n"));
    bench.machine.set_state(StateId(0), Word::LOW);
    bench.machine.set_state(StateId(1), Word::HIGH);
    bench.set("CLK=0");
    assert_eq!(bench.seen("Q P"), "LH");
    assert_eq!(bench.pulse("CLK").seen("Q P"), "HH");
    assert_eq!(bench.pulse("CLK").seen("Q P"), "LL");
}
