//! Any text is read without a panic and in bounded time.

use dipsift_language::{MOST_BYTES, Severity, read};
use proptest::prelude::*;
use std::time::{Duration, Instant};

/// Descriptions to mutate: one of each feature.
const VALID: &str = "part 7499
title invented # comment
source none, invented
made 74 LS
dip A3..A0 B3 B2 B1 B0 /G GND Y3..Y0 CLK /CLR 1D 2D OC S VCC -
flat LS: A3..A0 B3 B2 B1 B0 /G GND Y3..Y0 CLK /CLR 1D 2D OC S VCC -
open OC
load CLK 2
group A = A3..A0
group B = B3 B2 B1 B0
state R Q1 Q2
wire ANY = |A & ~(A == 4'b1010) | ^B
when CLR Q1 Q2 := 0 ?
on rise CLK if ANY
  Q1 := 1D
  Q2 := {2D} ^ Q1
{Y3, Y2, Y1} = G ? A[3:1] + B[2:0] - 1 : ~A[2:0] while G
OC = A < B & S
steady 1D 2D while CLK
avoid G & CLR
table
  /CLR CLK S | R
  L X X | L
  H rise H | flip
  H fall L | ~1D
table
  /G S | Y0
  H X | Z
  L L | R
  L H | A0
part 7498 like 7499
title invented
for n in 1 2
  on fall CLK Qn := nD
";

fn slow(duration: Duration) -> bool {
    duration > Duration::from_secs(20)
}

#[test]
fn the_description_to_mutate_is_valid() {
    let said = read("valid.part", VALID).diagnostics;
    let said: Vec<_> = said.iter().map(|said| said.render(false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n"));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    #[test]
    fn any_text(text in "\\PC{0,400}") {
        for said in read("any.part", &text).diagnostics {
            said.render(false);
        }
    }

    #[test]
    fn any_words_of_the_language(words in proptest::collection::vec(
        prop::sample::select(VALID.split_inclusive([' ', '\n']).collect::<Vec<_>>()), 0..200,
    )) {
        for said in read("words.part", &words.concat()).diagnostics {
            said.render(false);
        }
    }

    #[test]
    fn mutated_descriptions(edits in proptest::collection::vec(
        (0..VALID.len(), 0..12_usize, "[ -~\n\té]{0,6}"), 1..6,
    )) {
        let mut text: Vec<char> = VALID.chars().collect();
        for (at, length, new) in edits {
            let at = at.min(text.len());
            let end = (at + length).min(text.len());
            text.splice(at..end, new.chars());
        }
        let text: String = text.into_iter().collect();
        for said in read("mutated.part", &text).diagnostics {
            said.render(false);
        }
    }
}

#[test]
fn a_file_that_is_too_large_is_not_read() {
    let text = "#".repeat(MOST_BYTES + 1);
    let reading = read("large.part", &text);
    assert_eq!(reading.diagnostics.len(), 1);
    assert_eq!(reading.diagnostics[0].message, "the file is too large");
    assert!(read("largest.part", &text[1..]).diagnostics.is_empty());
}

#[test]
fn hostile_files_end_in_time() {
    let head = "part 7499\ntitle t\nsource s\nmade LS\ndip A B C - - GND Y VCC\n";
    let fill = |piece: &str| piece.repeat((MOST_BYTES - 2000) / piece.len());
    let chain = |step: &dyn Fn(usize) -> String| {
        let mut text = head.to_owned();
        for index in 0.. {
            let line = step(index);
            if text.len() + line.len() > MOST_BYTES {
                break;
            }
            text += &line;
        }
        text
    };
    let variables = "abcdefghijklmnopqrstuvwxyz";
    let nested: String = variables
        .chars()
        .enumerate()
        .map(|(depth, c)| format!("{}for {c} in 1..60\n", " ".repeat(depth)))
        .collect();
    let cases = [
        format!("{head}Y = {}", fill("(")),
        format!("{head}Y = {}", fill("~")),
        format!("{head}Y = {}A", fill("A & ")),
        format!("{head}Y = {}A", fill("A + ")),
        format!("{head}Y = {}A", fill("A ? B : ")),
        format!("{head}Y = {}", fill("? ")),
        format!("{head}Y = {{{}A}}", fill("A, ")),
        format!("{head}{}= A", fill("Y ")),
        format!("{head}{nested}{}Y = A\n", " ".repeat(40)),
        format!("{head}{}", fill("for n in 1..60\n nY = nA\n")),
        chain(&|index| format!("wire W{index} = W{}\n", index + 1)),
        chain(&|index| format!("wire W{index} = ~W{} ^ A\n", index + 1)),
        chain(&|index| format!("group G{} = G{index} G{index}\n", index + 1)),
        chain(&|index| format!("Q{index} = Z{index}\n")),
        chain(&|index| format!("part {index} like {}\n", index + 1)),
        chain(&|index| format!("part {} like {index}\n", index + 1)),
        chain(&|index| format!("state S{index}\non rise S{index} S{index} := ~S{index}\n")),
        fill("part 1\n"),
        fill("a\n"),
        fill("Ä"),
        fill("table\n A | Y\n"),
        (0..700).map(|depth| format!("{}A\n", " ".repeat(depth))).collect(),
    ];
    for (index, text) in cases.iter().enumerate() {
        let started = Instant::now();
        let reading = read("hostile.part", text);
        assert!(!slow(started.elapsed()), "case {index} took {:?}", started.elapsed());
        let errors = reading.diagnostics.iter().any(|said| said.severity == Severity::Error);
        assert!(errors, "case {index} was accepted");
    }
}

#[test]
fn deep_nesting_is_accepted_up_to_the_limit() {
    let text = |depth: usize| {
        let (open, close) = ("(".repeat(depth), ")".repeat(depth));
        format!(
            "part 7499\ntitle t\nsource s\nmade LS\ndip A - - GND - - Y VCC\nY = {open}A{close}\n"
        )
    };
    assert!(read("deep.part", &text(32)).diagnostics.is_empty());
    let said = read("deep.part", &text(33)).diagnostics;
    assert_eq!(said[0].message, "the expression is nested too deep");
}
