//! Function tables.

mod support;

use dipsift_language::Severity;
use support::{Bench, invented, messages};

/// TI SDLS013, SN74LS139A.
#[test]
fn decoder_as_printed() {
    let mut bench = Bench::new(&invented(
        "/1G 1A 1B /1Y0 /1Y1 /1Y2 /1Y3 /2G 2A 2B /2Y0 /2Y1 /2Y2 /2Y3",
        "table for n in 1 2
  /nG nB nA | /nY0 /nY1 /nY2 /nY3
  H   X  X  | H    H    H    H
  L   L  L  | L    H    H    H
  L   L  H  | H    L    H    H
  L   H  L  | H    H    L    H
  L   H  H  | H    H    H    L
",
    ));
    for (inputs, expected) in [
        ("/2G=1 2B=0 2A=0", "HHHH"),
        ("/2G=0 2B=0 2A=0", "LHHH"),
        ("/2G=0 2B=0 2A=1", "HLHH"),
        ("/2G=0 2B=1 2A=0", "HHLH"),
        ("/2G=0 2B=1 2A=1", "HHHL"),
        ("/2G=1 2B=X 2A=X", "HHHH"),
    ] {
        assert_eq!(bench.set(inputs).seen("/2Y0 /2Y1 /2Y2 /2Y3"), expected, "{inputs}");
    }
}

#[test]
fn edges_levels_and_what_is_kept() {
    let mut bench = Bench::new(&invented(
        "/CLR CLK J K Q /Q",
        "state Q
/Q = ~Q
table
  /CLR CLK  J K | Q
  L    X    X X | L
  H    fall L L | same
  H    fall H L | H
  H    fall L H | L
  H    fall H H | flip
",
    ));
    bench.set("/CLR=0 CLK=0 J=0 K=0");
    assert_eq!(bench.seen("Q /Q"), "LH");
    assert_eq!(bench.set("/CLR=1 J=1").set("CLK=1").seen("Q"), "L");
    assert_eq!(bench.set("CLK=0").seen("Q"), "H", "falling edge");
    assert_eq!(bench.set("J=0").pulse("CLK").seen("Q"), "H", "same");
    assert_eq!(bench.set("J=1 K=1").pulse("CLK").seen("Q"), "L", "flip");
    assert_eq!(bench.pulse("CLK").seen("Q"), "H", "flip");
    assert_eq!(bench.set("J=0").pulse("CLK").seen("Q"), "L", "reset");
    assert_eq!(bench.set("J=1 K=0").pulse("CLK").set("CLK=1 /CLR=0").seen("Q"), "L");
}

#[test]
fn three_state_rows_and_names() {
    let mut bench = Bench::new(&invented(
        "/G S A B Y W",
        "table\n  /G S | Y W\n  H X | Z H\n  L L | A ~A\n  L H | B ?\n",
    ));
    assert_eq!(bench.set("/G=1 S=0 A=1 B=0").seen("Y W"), "ZH");
    assert_eq!(bench.set("/G=0").seen("Y W"), "HL");
    assert_eq!(bench.set("S=1").seen("Y W"), "LX");
    assert_eq!(bench.set("S=X B=1").seen("Y"), "H", "either way high");
    assert_eq!(bench.set("/G=X").seen("Y"), "?");
}

#[test]
fn latches_keep_what_no_row_covers() {
    let mut bench = Bench::new(&invented(
        "/S /R Q",
        "state Q\ntable\n  /S /R | Q\n  L L | ?\n  L H | H\n  H L | L\n",
    ));
    assert_eq!(bench.set("/S=0 /R=1").seen("Q"), "H");
    assert_eq!(bench.set("/S=1").seen("Q"), "H");
    assert_eq!(bench.set("/R=0").seen("Q"), "L");
    assert_eq!(bench.set("/R=1").seen("Q"), "L");
    assert_eq!(bench.set("/S=0 /R=0").seen("Q"), "X");
}

#[test]
fn the_first_row_that_matches_wins() {
    let mut bench = Bench::new(&invented(
        "E A B Q",
        "state Q\ntable\n  E A B | Q\n  H X X | same\n  X H X | H\n  X X H | L\n",
    ));
    assert_eq!(bench.set("E=0 A=1 B=1").seen("Q"), "H");
    assert_eq!(bench.set("A=0").seen("Q"), "L");
    assert_eq!(bench.set("E=1 A=1").seen("Q"), "L");
}

#[test]
fn an_edge_table_with_a_resting_row() {
    let mut bench = Bench::new(&invented(
        "/G CLK D Q",
        "state Q\ntable\n  /G CLK D | Q\n  H X X | same\n  L rise H | H\n  L rise L | L\n  L L X | same\n",
    ));
    assert_eq!(bench.set("/G=0 CLK=0 D=1").pulse("CLK").seen("Q"), "H");
    assert_eq!(bench.set("/G=1 D=0").pulse("CLK").seen("Q"), "H");
    assert_eq!(bench.set("/G=0").pulse("CLK").seen("Q"), "L");
}

#[test]
fn wide_tables_are_looked_at_in_bounded_time() {
    let inputs: Vec<String> = (0..24).map(|index| format!("A{index}")).collect();
    let mut table = format!("table\n  {} | Y\n", inputs.join(" "));
    let other = |row: usize, column: usize| match (row * 31 + column * column * 7) % 11 {
        0 => "H",
        1 => "L",
        _ => "X",
    };
    for row in 0..200_usize {
        let cell = |column: usize| match column {
            // Every row demands something.
            _ if column == row % 24 => "H",
            _ => other(row, column),
        };
        let cells: Vec<&str> = (0..24).map(cell).collect();
        table += &format!("  {} | H\n", cells.join(" "));
    }
    let started = std::time::Instant::now();
    let said = messages(&invented("A0..A23 Y", &table), Severity::Error);
    assert!(started.elapsed().as_secs() < 20);
    assert_eq!(said.len(), 1, "{said:?}");
}
