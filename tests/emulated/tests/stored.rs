//! Without a host: the button starts the armed program and the lamps say its verdict. What is armed
//! outlives resets and power cuts, also those in the middle of its writing.

mod support;

use dipsift_emulated::Reset;
use dipsift_language::Family;
use dipsift_simulator::Defect;
use dipsift_wire::{Answer, Ask};
use support::button::{ALL, GO, NO_GO, NONE, NOT_DECIDED, arm, press, press_for};
use support::talk::Talk;

/// Where sector 13 begins in the second bank, and the end of it (ST RM0090, flash module
/// organization).
const SECOND: usize = 0x4000;
const END: usize = 0x8000;

fn started() -> Talk {
    let mut talk = Talk::new();
    talk.machine().board_mut().skip_idle_rounds(true);
    talk
}

fn armed(talk: &mut Talk) -> Option<String> {
    match talk.ask(Ask::Armed) {
        Some(Answer::Armed(armed)) => armed.map(|armed| armed.name.to_string()),
        other => panic!("{other:?} for what is armed"),
    }
}

/// A memory marched without a host.
#[test]
fn a_press_marches_a_memory() {
    let mut talk = started();
    arm(&mut talk, "2114");
    talk.insert("2114", Family::Nmos, &[]);
    assert_eq!(press(&mut talk), GO);
    let stuck: Defect = "cell 1023 bit 3 stuck at 0".parse().expect("a phrase");
    talk.insert("2114", Family::Nmos, &[stuck]);
    assert_eq!(press(&mut talk), NO_GO);
    let violations = talk.line.machine().board().fixture().socket().counters().memory_violations;
    assert_eq!(violations, 0);
}

#[test]
fn lamps_say_what_a_press_has_found() {
    let mut talk = started();
    assert_eq!(talk.line.machine().board().lamps(), NONE);
    assert_eq!(press(&mut talk), ALL, "nothing is armed");
    arm(&mut talk, "74LS00");
    let stuck = Defect::Stuck { pin: 3, high: true };
    for (defects, lamps) in [
        (vec![], GO),
        (vec![stuck.clone()], NO_GO),
        (vec![Defect::Empty], NOT_DECIDED),
        (vec![Defect::SupplyShorted], NOT_DECIDED),
        (vec![Defect::TurnedRound], NOT_DECIDED),
        (vec![], GO),
    ] {
        talk.insert("7400", Family::Ls, &defects);
        let counters = talk.line.machine().board().fixture().socket().counters();
        assert_eq!(press(&mut talk), lamps, "{defects:?}");
        let after = talk.line.machine().board().fixture().socket().counters();
        if lamps == GO {
            assert_eq!(after.contention_events, counters.contention_events);
        }
    }
    talk.insert("7402", Family::Ls, &[]);
    assert_ne!(press(&mut talk), GO);
    let counts = talk.line.machine().counts();
    assert_eq!((counts.faults, counts.resets), (0, 0));
}

#[test]
fn a_second_press_breaks_a_check_off() {
    let mut talk = started();
    // A counter of fourteen stages takes 0.2 s.
    talk.insert("4020", Family::B, &[]);
    arm(&mut talk, "4020B");
    talk.machine().press(true);
    talk.run_ms(40);
    talk.machine().press(false);
    talk.run_ms(40);
    assert!(talk.is_powered());
    // It is looked at between windows, and counts after 20 ms.
    assert_eq!(press_for(&mut talk, 100), NOT_DECIDED);
    assert!(talk.is_safe() && talk.line.machine().board().is_bleeding());
    assert_eq!(press(&mut talk), GO);
}

#[test]
fn what_is_armed_outlives_resets() {
    let mut talk = started();
    talk.insert("7400", Family::Ls, &[]);
    arm(&mut talk, "74LS00");
    let operations = talk.line.machine().flash_operations();
    for reset in [Reset::Pin, Reset::BrownOut, Reset::Watchdog, Reset::Software] {
        talk.machine().reset(reset).expect("the board starts");
        talk.start();
        assert_eq!(armed(&mut talk).as_deref(), Some("74LS00"));
    }
    talk.machine().power_cycle().expect("the board starts");
    talk.start();
    // With no host's word since the start.
    assert_eq!(press(&mut talk), GO);
    assert_eq!(armed(&mut talk).as_deref(), Some("74LS00"));
    arm(&mut talk, "74LS00");
    assert_eq!(talk.line.machine().flash_operations(), operations, "written without need");
}

/// Arms one program, then another with the power cut after each number of operations.
fn cut_everywhere(fill: impl Fn(&mut Talk)) -> u64 {
    let mut cuts = 0;
    let (mut before, mut after) = (0, 0);
    loop {
        let mut talk = started();
        arm(&mut talk, "74LS00");
        fill(&mut talk);
        assert_eq!(armed(&mut talk).as_deref(), Some("74LS00"));
        talk.machine().cut_power_after(Some(cuts));
        let name = "74LS04".try_into().expect("a short name");
        let answer = talk.ask(Ask::Arm(Some(name)));
        let machine = talk.line.machine();
        if machine.counts().resets == 0 {
            assert!(matches!(answer, Some(Answer::Armed(Some(_)))), "{answer:?}");
            println!("{cuts} cuts: {before} left the part before, {after} the one after");
            assert!(cuts > 1 && before > 0);
            return cuts;
        }
        assert_eq!(answer, None, "answered before it was done");
        assert_eq!(machine.last_reset(), Reset::PowerOn);
        assert_eq!((machine.counts().resets, machine.counts().faults), (1, 0));
        talk.start();
        match armed(&mut talk).as_deref() {
            Some("74LS00") => before += 1,
            Some("74LS04") => after += 1,
            other => panic!("{other:?} is armed after {cuts} operations"),
        }
        // And it can be armed again.
        arm(&mut talk, "74LS04");
        assert_eq!(armed(&mut talk).as_deref(), Some("74LS04"));
        talk.machine().reset(Reset::Pin).expect("the board starts");
        talk.start();
        assert_eq!(armed(&mut talk).as_deref(), Some("74LS04"));
        cuts += 1;
    }
}

#[test]
fn a_power_cut_in_a_record_leaves_the_old_part_or_the_new_one() {
    cut_everywhere(|_| {});
}

/// The sector of the present record is full, and the other one has something old in it.
#[test]
fn a_power_cut_in_an_erasure_does_too() {
    let plain = cut_everywhere(|_| {});
    let erasing = cut_everywhere(|talk| {
        let kept = talk.line.machine().kept();
        let used = kept[..SECOND].iter().rposition(|&byte| byte != 0xff).expect("a record") + 1;
        let rest = vec![0; SECOND - used];
        talk.machine().keep(used, &rest);
        talk.machine().keep(SECOND, &[0; END - SECOND]);
    });
    assert_eq!(erasing, plain + 1, "no sector was erased");
}

#[test]
fn a_protected_sector_is_an_honest_refusal() {
    let mut talk = started();
    talk.machine().protect_sector(12);
    talk.machine().protect_sector(13);
    let answer = talk.ask(Ask::Arm(Some("74LS00".try_into().expect("a short name"))));
    assert!(matches!(answer, Some(Answer::Refused(_))), "{answer:?}");
    assert_eq!(armed(&mut talk), None);
    assert!(talk.is_safe());
    assert!(talk.line.machine().kept().iter().all(|&byte| byte == 0xff));
}
