//! Expressions, three-state and bidirectional pins, open collectors.

mod support;

use dipsift_language::{Output, Role};
use support::{Bench, invented};

/// Function table: TI SDLS146, SN74LS245.
#[test]
fn bus_transceiver_both_ways() {
    let mut bench = Bench::new(
        "part 74245
title octal bus transceiver
source TI SDLS146
made LS
dip DIR A1..A8 GND B8..B1 /G VCC
for n in 1..8
  Bn = An while G &  DIR
  An = Bn while G & ~DIR
",
    );
    for name in ["A3", "B3"] {
        let pin = bench.part.pin_named(name).unwrap();
        assert_eq!(bench.part.pin(pin).role, Role::Bidirectional);
        assert_eq!(bench.part.pin(pin).output, Some(Output::ThreeState));
    }
    assert_eq!(bench.set("/G=0 DIR=1 A3=1 A4=0").seen("A3 B3 A4 B4"), "ZHZL");
    assert_eq!(bench.set("DIR=0 B3=0 B4=1").seen("A3 B3 A4 B4"), "LZHZ");
    assert_eq!(bench.set("/G=1").seen("A3 B3"), "ZZ");
    assert_eq!(bench.set("/G=X").seen("A3 B3"), "?Z");
}

#[test]
fn slash_is_the_level_and_the_bare_name_the_activity() {
    let mut bench = Bench::new(&invented(
        "/E A P Q R /S Y /Y",
        "P = E\nQ = /E\nR = A & /E\nS = A\nY = A\n/Y = ~Y\n",
    ));
    assert_eq!(bench.set("/E=0 A=1").seen("P Q R /S Y /Y"), "HLLLHL");
    assert_eq!(bench.set("/E=1").seen("P Q R /S"), "LHHL");
    assert_eq!(bench.set("A=0").seen("/S Y /Y"), "HLH");
}

/// Against plain integer arithmetic.
#[test]
fn operators_against_integers() {
    let mut bench = Bench::new(&invented(
        "A2 A1 A0 B2 B1 B0 CI CO S2 S1 S0 BO D2 D1 D0 EQ NE LT LE GT GE ALL ANY ODD M2 M1 M0 J",
        "group A = A2 A1 A0
group B = B2 B1 B0
group S = S2 S1 S0
group D = D2..D0
{CO, S} = A + B + CI
{BO, D} = A - B
EQ NE LT = A == B A != B A < B
LE GT GE = A <= B A > B A >= B
ALL = &A
ANY = |A
ODD = ^A
M2 M1 M0 = CI ? A == 3'd5 ? 3'b111 : ~A : A ^ B & 3'h6
J = {A[2], B[1:0]} == 5
",
    ));
    let names = "CO S2 S1 S0 BO D2 D1 D0 EQ NE LT LE GT GE ALL ANY ODD M2 M1 M0 J";
    for case in 0..128_u32 {
        let (a, b, ci) = (case & 7, case >> 3 & 7, case >> 6);
        let bit = |value: u32, bit: u32| value >> bit & 1;
        bench.set(&format!(
            "A2={} A1={} A0={} B2={} B1={} B0={} CI={ci}",
            bit(a, 2),
            bit(a, 1),
            bit(a, 0),
            bit(b, 2),
            bit(b, 1),
            bit(b, 0)
        ));
        let chosen = match (ci, a) {
            (1, 5) => 7,
            (1, _) => !a & 7,
            _ => a ^ (b & 6),
        };
        let mut expected = format!("{:04b}{:04b}", a + b + ci, a.wrapping_sub(b) & 15);
        for truth in [a == b, a != b, a < b, a <= b, a > b, a >= b, a == 7, a != 0] {
            expected.push(if truth { '1' } else { '0' });
        }
        expected +=
            &format!("{}{chosen:03b}{}", a.count_ones() & 1, u32::from((a & 4) | (b & 3) == 5));
        let expected = expected.replace('1', "H").replace('0', "L");
        assert_eq!(bench.seen(names), expected, "a={a} b={b} ci={ci}");
    }
}

#[test]
fn unknown_inputs_and_values() {
    let mut bench = Bench::new(&invented(
        "A B Y Z U V",
        "Y = A & B\nZ = A | ~A\nU = A ? B : B\nV = A ? 1 : ?\n",
    ));
    assert_eq!(bench.set("A=X B=0").seen("Y Z U V"), "LHLX");
    assert_eq!(bench.set("A=1 B=1").seen("Y Z U V"), "HHHH");
    assert_eq!(bench.set("A=0").seen("V"), "X");
}

#[test]
fn a_question_mark_is_a_choice_only_before_a_colon() {
    let mut bench = Bench::new(&invented("A B P Q R S", "P Q = ? A\nR S = B ? A : ~A ?\n"));
    assert_eq!(bench.set("A=1 B=0").seen("P Q R S"), "XHLX");
}

#[test]
fn outputs_may_read_outputs_in_any_order() {
    let mut bench = Bench::new(&invented("A X Y", "Y = ~X\nX = ~A\n"));
    assert_eq!(bench.set("A=1").seen("X Y"), "LH");
}

#[test]
fn open_collectors_and_traits() {
    let bench = Bench::new(&invented(
        "A B Y",
        "open Y\nschmitt A\nload B 1.5\nY = ~(A & B)\nlimit 200 mA\nnote one\nnote two\nuntested three\n",
    ));
    let part = &bench.part;
    let pin = |name| part.pin(part.pin_named(name).unwrap());
    assert_eq!(pin("Y").output, Some(Output::OpenCollector));
    assert!(pin("A").schmitt && !pin("B").schmitt);
    assert_eq!((pin("A").load_tenths, pin("B").load_tenths), (10, 15));
    assert_eq!(part.limit_ma, Some(200));
    assert_eq!(part.notes, ["one", "two"]);
    assert_eq!(part.untested, ["three"]);
}

#[test]
fn an_open_collector_that_is_read_back_is_released_when_high() {
    let mut bench = Bench::new(&invented("A EN P Y", "open P\nP = A while EN\nY = ~P\n"));
    assert_eq!(bench.set("A=1 EN=1 P=0").seen("P Y"), "ZH", "another chip pulls it low");
    assert_eq!(bench.set("P=1").seen("P Y"), "ZL");
    assert_eq!(bench.set("A=0").seen("P Y"), "LH");
}

#[test]
fn levels_that_chase_each_other_through_pins_are_unknown() {
    let mut bench = Bench::new(&invented("E F P Q", "P = ~Q while E\nQ = P while F\n"));
    assert_eq!(bench.set("E=1 F=0 P=0 Q=0").seen("P Q"), "HZ");
    assert_eq!(bench.set("F=1").seen("P Q"), "XX");
    assert_eq!(bench.set("E=0 P=1").seen("P Q"), "ZH");
}

#[test]
fn steady_and_avoid_are_conditions() {
    let bench = Bench::new(&invented(
        "J K CLK Q",
        "state Q\non fall CLK Q := J & ~Q | ~K & Q\nsteady J K while CLK\navoid J & K & CLK\n",
    ));
    let part = &bench.part;
    assert_eq!(part.steady.len(), 1);
    let names: Vec<_> = part.steady[0].pins.iter().map(|pin| &part.pin(*pin).name).collect();
    assert_eq!(names, ["J", "K"]);
    let mut bench = bench;
    bench.set("J=1 K=1 CLK=1");
    let (steady, avoid) = (bench.part.steady[0].condition, bench.part.avoid[0]);
    assert_eq!(bench.machine.node(steady).known(), Some(true));
    assert_eq!(bench.machine.node(avoid).known(), Some(true));
    bench.set("K=0");
    assert_eq!(bench.machine.node(avoid).known(), Some(false));
}

#[test]
fn operands_stand_before_their_gates() {
    use dipsift_language::Node;
    let bench = Bench::new(&invented("A B C Y", "Y = A & B ^ ~C | (A ? B : C)\n"));
    for (index, node) in bench.part.network.nodes.iter().enumerate() {
        let operands = match *node {
            Node::Not(a) => vec![a],
            Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => vec![a, b],
            Node::Mux { select, high, low } => vec![select, high, low],
            _ => vec![],
        };
        assert!(operands.iter().all(|operand| (operand.0 as usize) < index));
    }
}
