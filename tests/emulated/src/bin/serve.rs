//! Serves an emulated board on a pseudo terminal, for `dipsift … --tester PATH`, until it is
//! ended. A line `press` on standard input presses the button; the lamps are printed when they
//! change.

use dipsift_emulated::{Fixture, Image, Line, Machine, Sources};
use dipsift_language::{Family, Library};
use dipsift_link::Transport;
use dipsift_simulator::{Chip, Defect};
use serialport::{SerialPort, TTYPort};
use std::error::Error;
use std::io::{ErrorKind, Read, Write, stdin};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};

const USAGE: &str =
    "usage: serve [--image ELF] [--part NUMBER] [--family WORD] [--defect PHRASE]... [--seed N]";
/// How much of the board's time passes between two looks at the terminal.
const SLICE_NS: u64 = 1_000_000;
/// How long the button is pressed.
const PRESS_NS: u64 = 100_000_000;

#[derive(Default)]
struct Arguments {
    image: Option<PathBuf>,
    part: Option<String>,
    family: Option<String>,
    defects: Vec<String>,
    seed: u64,
}

fn arguments() -> Result<Arguments, Box<dyn Error>> {
    let mut all = Arguments {
        image: std::env::var_os("DIPSIFT_IMAGE").map(PathBuf::from),
        ..Default::default()
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or(USAGE)?;
        match word.as_str() {
            "--image" => all.image = Some(value.into()),
            "--part" => all.part = Some(value),
            "--family" => all.family = Some(value),
            "--defect" => all.defects.push(value),
            "--seed" => all.seed = value.parse()?,
            _ => return Err(USAGE.into()),
        }
    }
    Ok(all)
}

/// Puts the chip into the socket.
fn insert(fixture: &mut Fixture, arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let Some(number) = &arguments.part else { return Ok(()) };
    let library = Library::builtin();
    let part = library.part(number).ok_or_else(|| format!("no part \"{number}\""))?;
    let family = match &arguments.family {
        Some(word) => part
            .made
            .iter()
            .copied()
            .find(|family| family.word() == word)
            .ok_or_else(|| format!("{number} was not made in family {word}"))?,
        None => usual(&part.made).ok_or("made in no family")?,
    };
    let defects: Vec<Defect> =
        arguments.defects.iter().map(|phrase| phrase.parse()).collect::<Result<_, _>>()?;
    let chip = Chip::new(part.clone(), family, arguments.seed)?
        .replaced(&defects, |number| library.part(number).cloned())?;
    fixture.socket_mut().insert(chip, &defects)?;
    Ok(())
}

fn usual(made: &[Family]) -> Option<Family> {
    let first = [Family::Standard, Family::B, Family::Ls];
    first.into_iter().find(|family| made.contains(family)).or(made.first().copied())
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments = arguments()?;
    let image = arguments.image.as_ref().ok_or("no image: --image ELF, or DIPSIFT_IMAGE")?;
    let mut fixture = Fixture::new(arguments.seed);
    insert(&mut fixture, &arguments)?;
    let mut machine = Machine::new(Image::read(image)?, fixture, Sources::default())?;
    // So that the board keeps up with real time.
    machine.board_mut().skip_idle_rounds(true);
    let (mut master, slave) = TTYPort::pair()?;
    println!("{}", slave.name().ok_or("a pseudo terminal without name")?);
    // Held open here, it could not be opened for a host alone.
    drop(slave);
    master.set_timeout(Duration::from_millis(1))?;
    serve(&mut master, &mut Line::new(machine), &typed())
}

/// What is typed, line by line.
fn typed() -> Receiver<String> {
    let (sender, receiver) = channel();
    thread::spawn(move || {
        stdin().lines().map_while(Result::ok).try_for_each(|line| sender.send(line))
    });
    receiver
}

/// The button under a finger, and the lamps.
#[derive(Default)]
struct Front {
    released_at: Option<u64>,
    lamps: [bool; 3],
}

impl Front {
    fn look(&mut self, machine: &mut Machine, typed: &Receiver<String>) {
        let now = machine.nanoseconds();
        match typed.try_recv().as_deref().map(str::trim) {
            Ok("press") => {
                self.released_at = Some(now + PRESS_NS);
                machine.press(true);
            }
            Ok(other) => eprintln!("\"{other}\": only \"press\" can be typed"),
            Err(_) => {}
        }
        if self.released_at.is_some_and(|at| at <= now) {
            self.released_at = None;
            machine.press(false);
        }
        let lamps = machine.board().lamps();
        if lamps != self.lamps {
            self.lamps = lamps;
            let lit = ["go", "no-go", "not decided"].into_iter().zip(lamps);
            let lit: Vec<_> = lit.filter_map(|(name, lit)| lit.then_some(name)).collect();
            println!("lamps: {}", if lit.is_empty() { "none".into() } else { lit.join(", ") });
        }
    }
}

fn serve(
    terminal: &mut TTYPort,
    line: &mut Line,
    typed: &Receiver<String>,
) -> Result<(), Box<dyn Error>> {
    let mut front = Front::default();
    let mut bytes = [0; 4096];
    let (mut since, mut began) = (Instant::now(), line.machine().nanoseconds());
    loop {
        // Board time follows real time, and falls behind where the machine is too slow.
        let ahead = Duration::from_nanos(line.machine().nanoseconds() - began);
        let wait = ahead.saturating_sub(since.elapsed());
        if since.elapsed() > ahead + Duration::from_millis(20) {
            (since, began) = (Instant::now(), line.machine().nanoseconds());
        }
        // A zero time-out would wait for ever.
        terminal.set_timeout(wait.max(Duration::from_micros(100)))?;
        match terminal.read(&mut bytes) {
            Ok(count) => line.send(&bytes[..count])?,
            Err(error) if error.kind() == ErrorKind::TimedOut => {}
            // Nobody has opened the terminal.
            Err(_) => thread::sleep(Duration::from_millis(1)),
        }
        front.look(line.machine_mut(), typed);
        line.machine_mut().run(SLICE_NS)?;
        let replies = line.arrived();
        if !replies.is_empty() {
            // A host that has gone meanwhile will find the socket unpowered.
            let _ = terminal.write_all(&replies);
        }
    }
}
