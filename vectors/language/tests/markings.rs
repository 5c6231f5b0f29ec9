//! Numbers that several chips share, and makers' markings.

use dipsift_language::{Alias, Aliases, Family, Library, PartName, PartNameError, SharedNumbers};

fn error(text: &str) -> PartNameError {
    PartName::parse(text, &Library::builtin()).unwrap_err()
}

#[test]
fn the_tables_that_come_with_the_program_have_no_mistake() {
    SharedNumbers::builtin().unwrap();
    Aliases::builtin().unwrap();
    let (_, diagnostics) = Library::builtin_with(&[]).unwrap();
    let messages: Vec<String> = diagnostics.iter().map(|found| found.render(false)).collect();
    assert!(messages.is_empty(), "{}", messages.join("\n"));
}

/// Shared by a function of the 4000 series and a memory: TI's data book of the CD4000 series and
/// the memory data books of TI and Mostek, from memory.
#[test]
fn a_shared_number_alone_means_no_part() {
    let library = Library::builtin();
    for number in ["4016", "4027", "4044", "4060", "4096", "4104", "4532"] {
        for text in [number.to_owned(), format!("{number}-15"), format!(" {number} ")] {
            let PartNameError::Ambiguous { number: asked, choices } = error(&text) else {
                panic!("{text} is not ambiguous");
            };
            assert_eq!(asked, number);
            assert!(choices.iter().any(|choice| choice.name == format!("{number}B")), "{number}");
            assert!(choices.iter().any(|choice| choice.name == format!("{number}RAM")), "{number}");
        }
        let ram = PartName::parse(&format!("{number}RAM"), &library).unwrap();
        assert_eq!((ram.number.as_str(), ram.family), (&*format!("{number}RAM"), Family::Nmos));
    }
    let shared = SharedNumbers::builtin().unwrap();
    for (number, choices) in shared.iter() {
        for choice in choices {
            let Some(part) = library.part(&choice.name) else { continue };
            let sizes: Vec<usize> = part.packages.iter().map(|found| found.pins.len()).collect();
            assert_eq!(sizes, [usize::from(choice.pins)], "{number} {}", choice.name);
        }
    }
}

#[test]
fn the_message_says_what_to_say() {
    assert_eq!(
        error("4027").to_string(),
        "4027 is the number of several chips, fed at different pins: say 4027B for the dual J-K \
         flip-flop of the 4000 series in 16 pins, or say 4027RAM for the 4096 x 1 dynamic RAM with \
         -5 V, +5 V and +12 V in 16 pins"
    );
    let said = PartName::parse("4027B", &Library::builtin()).unwrap();
    assert_eq!((said.number.as_str(), said.family), ("4027", Family::B));
}

/// Every part whose name ends in RAM has its number from the table, so that none is powered by it.
#[test]
fn no_memory_hides_behind_a_number_that_is_not_in_the_table() {
    let library = Library::builtin();
    let hidden = library.iter().filter_map(|part| part.number.strip_suffix("RAM"));
    let mut count = 0;
    for number in hidden {
        assert!(!library.shared(number).is_empty(), "{number}");
        count += 1;
    }
    assert!(count >= 7, "{count}");
}

#[test]
fn markings_name_parts_and_nothing_else() {
    let library = Library::builtin();
    let shared = SharedNumbers::builtin().unwrap();
    let names: Vec<&str> =
        shared.iter().flat_map(|(_, all)| all).map(|choice| choice.name.as_str()).collect();
    let aliases: Vec<&Alias> = library.aliases().iter().collect();
    assert!(aliases.len() >= 150, "{}", aliases.len());
    for Alias { marking, part, .. } in &aliases {
        assert!(library.part(part).is_some(), "{marking}: no part {part}");
        assert!(library.part(marking).is_none(), "{marking} is the number of a part");
        assert!(!names.contains(&marking.as_str()), "{marking} is a name of a shared number");
        assert!(library.shared(marking).is_empty(), "{marking} is a shared number");
        assert!(marking.starts_with(|c: char| c.is_ascii_alphabetic()), "{marking}: no maker");
    }
}

/// Trust decides whether a marking alone may power a chip; one that is never powered is refused
/// for its supplies, and needs none.
#[test]
fn each_marking_is_taken_for_its_part_or_asked_about() {
    let library = Library::builtin();
    let mut trusted = 0;
    for alias in library.aliases().iter() {
        let part = library.part(&alias.part).unwrap();
        let never_powered = part.foreign_supplies().next().is_some();
        match PartName::parse(&alias.marking, &library) {
            Ok(name) => {
                assert_eq!(name.number, alias.part, "{}", alias.marking);
                assert!(alias.trusted() || never_powered, "{}", alias.marking);
                assert!(name.assumed.is_some(), "{}", alias.marking);
                trusted += usize::from(alias.trusted());
            }
            Err(PartNameError::Untrusted { part, sources, .. }) => {
                assert_eq!(part, alias.part);
                assert!(sources.len() < 2 && !never_powered, "{}", alias.marking);
            }
            Err(other) => panic!("{}: {other}", alias.marking),
        }
    }
    assert!(trusted >= 10, "{trusted}");
}

/// HM4864-3 and TMS4164-20NL are 200 ns parts: list of compatible types, zxjim.blogspot.com, 2011.
#[test]
fn markings_with_letters_and_speeds() {
    let library = Library::builtin();
    for (text, number, speed) in [
        ("HM4864-3", "4164", Some("3")),
        ("HM4864AP-3", "4164", Some("3")),
        ("hm4864p", "4164", None),
        ("TMS4164-20NL", "4164", Some("20")),
        ("\u{b5}PD4164C-2", "4164", Some("2")),
        ("\u{3bc}PD4164-3", "4164", Some("3")),
        ("TMS2516JL", "2516", None),
        ("MK4116N-3", "4116", Some("3")),
        ("TMS2716", "TMS2716", None),
    ] {
        let name = PartName::parse(text, &library).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!((name.number.as_str(), name.speed.as_deref()), (number, speed), "{text}");
    }
    assert_eq!(
        error("HM4864-9").to_string(),
        "4164 has no grade `-9`; its grades are -10 -12 -15 -20 -25 -2 -3"
    );
    assert_eq!(
        error("KM4164").to_string(),
        "KM4164 is taken for a 4164 by allaboutcircuits forum, thread 38002: 4164 made by Samsung \
         as KM4164; two independent sources are wanted before it is powered: say 4164 if the data \
         sheet agrees"
    );
    assert!(matches!(error("ZZ4164"), PartNameError::Unknown { .. }));
}

/// A library of one's own texts has neither table.
#[test]
fn other_libraries_ask_nothing() {
    let text = "part 4027\ntitle a flip-flop\nsource a sheet\nmade 4000B\n\
                dip A B C D E F GND G H I J K L VDD\nG = A\nH = B\nI = C\nJ = D\nK = E\nL = F\n";
    let (library, diagnostics) = Library::of_texts([("a.part", text)]);
    assert!(diagnostics.is_empty());
    assert_eq!(PartName::parse("4027", &library).unwrap().number, "4027");
}
