//! Parts that take over others, libraries, and part numbers.

mod support;

use dipsift_language::{
    Family, Library, Output, PackageKind, PartName, PartNameError, Severity, marking, read,
    read_with,
};
use std::fs;
use support::{Bench, library};

const GATES: &str = "part 7400
title quad 2-input NAND gate
source TI SDLS025
made 74 LS HC
dip 1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC
flat 74: 1A 1B 1Y VCC 2Y 2A 2B 3Y 3A 3B GND 4A 4B 4Y
for n in 1..4
  nY = ~(nA & nB)
";

#[test]
fn a_variant_overrides_pinout_titles_and_single_outputs() {
    let text = format!(
        "{GATES}
part 7401 like 7400
title the same, open collector, another pinout
source TI SDLS026
made 74
dip 1Y 1A 1B 2Y 2A 2B GND 3A 3B 3Y 4A 4B 4Y VCC
flat 1Y 1A 1B VCC 2Y 2A 2B 3A 3B 3Y GND 4A 4B 4Y
open 1Y 2Y 3Y 4Y
note a pull-up is needed
part 7498 like 7401
title invented
totem 1Y
1Y = 1A & 1B
"
    );
    let library = library(&text);
    let base = library.part("7400").unwrap();
    let open = library.part("7401").unwrap();
    let output = |number: &str, name: &str| {
        let part = library.part(number).unwrap();
        part.pin(part.pin_named(name).unwrap()).output
    };
    assert_eq!(output("7400", "1Y"), Some(Output::TotemPole));
    assert_eq!(output("7401", "1Y"), Some(Output::OpenCollector));
    assert_eq!(output("7498", "1Y"), Some(Output::TotemPole));
    assert_eq!(output("7498", "2Y"), Some(Output::OpenCollector));
    assert_eq!(open.made, [Family::Standard]);
    assert_eq!(open.sources, ["TI SDLS026"]);
    assert_eq!(open.notes, ["a pull-up is needed"]);
    let first = |number: &str| {
        let part = library.part(number).unwrap();
        let dip = part.package(PackageKind::Dip, Family::Standard).unwrap();
        part.pin(dip.at(1).unwrap()).name.clone()
    };
    assert_eq!((first("7400").as_str(), first("7401").as_str()), ("1A", "1Y"));
    assert_eq!(base.package(PackageKind::Flat, Family::Ls), None);
    let mut bench = Bench::new(&text);
    assert_eq!(bench.part.number, "7498");
    assert_eq!(bench.set("1A=1 1B=1 2A=1 2B=1").seen("1Y 2Y"), "HL");
}

#[test]
fn a_file_may_take_over_parts_of_a_library() {
    let library = library(GATES);
    let text = "part 7403 like 7400\ntitle open collector\nopen 1Y 2Y 3Y 4Y\n";
    let reading = read_with("mine.part", text, &library);
    assert!(reading.diagnostics.is_empty() && !reading.has_errors());
    assert_eq!(reading.parts.len(), 1);
    assert_eq!(reading.parts[0].number, "7403");
    let alone = read("mine.part", text);
    assert!(alone.has_errors() && alone.parts.is_empty());
    assert_eq!(alone.diagnostics[0].message, "there is no part `7400`");
    let wrong = read_with("mine.part", &format!("{text}5Y = 1A\n"), &library);
    let place = &wrong.diagnostics[0];
    assert_eq!((place.file.as_str(), place.line, place.column), ("mine.part", 4, 1));
}

#[test]
fn a_variant_replaces_all_rules_of_a_register() {
    let base = "part 7493
title invented
source none, invented
made 74
dip CLK CLR D Q P GND VCC -
state Q P
when CLR Q P := 0 0
on rise CLK Q P := D D
";
    let variant = "part 7494 like 7493\ntitle invented\non fall CLK Q := ~D\n";
    let mut bench = Bench::new(&format!("{base}{variant}"));
    bench.set("CLK=0 CLR=1 D=0").set("CLR=0");
    assert_eq!(bench.seen("Q P"), "XL", "no clear is left for Q");
    assert_eq!(bench.set("CLK=1").seen("Q P"), "XL");
    assert_eq!(bench.set("CLK=0").seen("Q P"), "HL");
}

#[test]
fn folders_add_parts_and_replace_numbers_with_a_warning() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("inner");
    fs::create_dir(&inner).unwrap();
    fs::write(inner.join("a.part"), GATES).unwrap();
    fs::write(folder.path().join("b.part"), "part 79900 like 7400\ntitle invented\n").unwrap();
    fs::write(folder.path().join("c.txt"), "not a description").unwrap();
    let other = tempfile::tempdir().unwrap();
    fs::write(other.path().join("d.part"), GATES.replace("quad", "my")).unwrap();
    let folders = [folder.path().to_owned(), other.path().to_owned()];
    let (library, said) = Library::builtin_with(&folders).unwrap();
    assert_eq!(library.part("7400").unwrap().title, "my 2-input NAND gate");
    assert!(library.part("79900").is_some());
    let replaced: Vec<_> = said.iter().filter(|said| said.file.ends_with("d.part")).collect();
    assert_eq!(replaced.len(), 1);
    assert_eq!(replaced[0].severity, Severity::Warning);
    assert!(Library::builtin_with(&[folder.path().join("none")]).is_err());
}

#[test]
fn the_builtin_parts_have_no_errors() {
    let (library, said) = Library::builtin_with(&[]).unwrap();
    let said: Vec<_> = said.iter().map(|said| said.render(false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    assert_eq!(library.len(), Library::builtin().len());
}

fn shelf() -> Library {
    let pins = "dip A Y - GND - - - VCC\nY = ~A\n";
    let invented = |number: &str, made: &str| {
        format!("part {number}\ntitle invented\nsource none, invented\nmade {made}\n{pins}")
    };
    let memory = "part 6264
title 8192 x 8 static RAM
source invented sizes
made NMOS
dip A0..A12 D7..D0 /CS GND /WE VCC - - -
memory 8192 x 8
  address A12..A0
  data D7..D0
  read while CS & ~WE
  write while CS & WE
grade -15 150ns -12 120ns
";
    let parts = [
        invented("7400", "74 H LS HC"),
        invented("7430", "74"),
        invented("74595", "LS HC"),
        invented("744040", "HC HCT"),
        invented("4017", "4000B"),
        invented("4040", "4000B"),
        invented("4049", "4000UB"),
        invented("4001", "4000B 4000UB HC"),
        invented("74S188", "S"),
        memory.to_owned(),
    ];
    library(&parts.concat())
}

#[test]
fn part_numbers_are_understood() {
    let library = shelf();
    for (text, number, family, prefix, assumed) in [
        (
            "7400",
            "7400",
            Family::Standard,
            None,
            Some("7400 is taken as standard TTL; say 74LS00 for another family"),
        ),
        ("74ls00", "7400", Family::Ls, None, None),
        ("54H00", "7400", Family::H, Some("54"), None),
        (
            "5400",
            "7400",
            Family::Standard,
            Some("54"),
            Some("5400 is taken as standard TTL; say 54LS00 for another family"),
        ),
        ("7430", "7430", Family::Standard, None, None),
        ("74HC4040", "744040", Family::Hc, None, None),
        ("74hc4001", "4001", Family::Hc, None, None),
        ("54HC4001", "4001", Family::Hc, Some("54"), None),
        (
            "4040",
            "4040",
            Family::B,
            None,
            Some("4040 is taken as 4040B, the 4000 series; say 74HC4040 for another family"),
        ),
        ("4017b", "4017", Family::B, None, None),
        ("4017", "4017", Family::B, None, Some("4017 is taken as 4017B, the 4000 series")),
        ("4049", "4049", Family::Ub, None, Some("4049 is taken as 4049UB, the 4000 series")),
        ("4001UB", "4001", Family::Ub, None, None),
        (
            "4001",
            "4001",
            Family::B,
            None,
            Some("4001 is taken as 4001B, the 4000 series; say 4001UB for another family"),
        ),
        ("6264", "6264", Family::Nmos, None, None),
        ("74S188", "74S188", Family::S, None, None),
    ] {
        let name = PartName::parse(text, &library).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(name.number, number, "{text}");
        assert_eq!(name.family, family, "{text}");
        assert_eq!(name.prefix.as_deref(), prefix, "{text}");
        assert_eq!(name.assumed.as_deref(), assumed, "{text}");
        assert_eq!(name.speed, None, "{text}");
    }
    let fast = PartName::parse(" 6264-15 ", &library).unwrap();
    assert_eq!((fast.number.as_str(), fast.speed.as_deref()), ("6264", Some("15")));
}

#[test]
fn part_numbers_that_are_not_understood() {
    let library = shelf();
    for (text, expected) in [
        ("74AC00", "74AC00 was not made in AC; made in 74 H LS HC: say 74LS00"),
        ("54AC00", "54AC00 was not made in AC; made in 74 H LS HC: say 54LS00"),
        ("74595", "74595 was not made in standard TTL; made in LS HC: say 74LS595"),
        ("744040", "744040 was not made in standard TTL; made in HC HCT: say 74HC4040"),
        ("74XY00", "`XY` is not a family; 7400 was made in 7400 74H00 74LS00 74HC00"),
        ("4017A", "`A` is not a family; 4017 was made in 4017B"),
        ("4017UB", "4017UB was not made in 4000UB; made in 4000B: say 4017B"),
        ("74LS03", "there is no part 7403 in the library; near it: 7400 7430"),
        ("9999", "there is no part 9999 in the library"),
        ("7400-15", "7400 has no speed grades: leave out `-15`"),
        ("6264-20", "6264 has no grade `-20`; its grades are -15 -12"),
        (
            "74 00",
            "`74 00` is not a part number; expected one such as 7400, 74LS00, 4017 or 6264-15",
        ),
        ("", "`` is not a part number; expected one such as 7400, 74LS00, 4017 or 6264-15"),
        ("é", "`é` is not a part number; expected one such as 7400, 74LS00, 4017 or 6264-15"),
    ] {
        let error: PartNameError = PartName::parse(text, &library).unwrap_err();
        assert_eq!(error.to_string(), expected);
    }
}

#[test]
fn markings() {
    for (number, family, expected) in [
        ("7400", Family::Standard, "7400"),
        ("7400", Family::Ls, "74LS00"),
        ("744040", Family::Hct, "74HCT4040"),
        ("4001", Family::Hc, "74HC4001"),
        ("4017", Family::B, "4017B"),
        ("4049", Family::Ub, "4049UB"),
        ("6264", Family::Nmos, "6264"),
        ("74S188", Family::S, "74S188"),
    ] {
        assert_eq!(marking(number, family), expected);
    }
}
