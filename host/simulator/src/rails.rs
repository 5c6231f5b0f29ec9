//! The chip as a network of its own diodes, while its rails are not both held by switches.
//!
//! Given both rail voltages every pin is solved by itself, so the unknowns are only the two
//! rails: ground is searched so that its currents cancel, and for each trial the supply likewise.

use crate::SimulatedSocket;
use crate::branch::{Branch, End, root, solve, total};

/// The chip's nodes other than its rails, each with the station's branches.
struct Pins {
    nodes: Vec<(usize, Vec<Branch>)>,
    volts: Vec<f64>,
}

impl SimulatedSocket {
    /// Solves the chip's nodes and leaves their voltages in `nodes`. Returns the rails' voltages.
    pub(crate) fn solve_rails(&mut self) -> (f64, f64) {
        let Some((vcc_node, gnd_node)) = self.wiring.rails else { return (0.0, 0.0) };
        let station = |node| {
            let mut branches = Vec::new();
            self.station_branches(node, &mut branches);
            if self.wiring.nodes[node].positions == 0 {
                // What touches no position still leaks.
                branches.push(Branch::both(End::Station, 0.0, self.fixture.leak_ohms));
            }
            branches
        };
        let mut pins = Pins { nodes: Vec::new(), volts: Vec::new() };
        for node in 0..self.nodes.len() {
            if node != vcc_node && node != gnd_node && self.wiring.is_of_chip(node) {
                pins.nodes.push((node, station(node)));
                pins.volts.push(self.nodes[node].volts);
            }
        }
        let (at_vcc, at_gnd) = (station(vcc_node), station(gnd_node));
        let guess = (self.nodes[vcc_node].volts, self.nodes[gnd_node].volts);
        let (vcc, gnd) = if vcc_node == gnd_node {
            let volts = root(guess.1, |volts| {
                let taken = self.currents(&mut pins, (volts, volts));
                total(&at_gnd, volts).0 - taken.0 - taken.1
            });
            (volts, volts)
        } else {
            let mut unbalance = |(vcc, gnd): (f64, f64)| {
                let taken = self.currents(&mut pins, (vcc, gnd));
                let through = self.through(vcc, gnd);
                (
                    total(&at_vcc, vcc).0 - taken.0 - through,
                    total(&at_gnd, gnd).0 - taken.1 + through,
                )
            };
            approach(guess, &mut unbalance).unwrap_or_else(|near| nested(near, &mut unbalance))
        };
        self.currents(&mut pins, (vcc, gnd));
        for ((node, _), volts) in pins.nodes.iter().zip(&pins.volts) {
            self.solved[*node] = *volts;
        }
        self.solved[vcc_node] = vcc;
        self.solved[gnd_node] = gnd;
        (vcc, gnd)
    }

    fn through(&self, vcc: f64, gnd: f64) -> f64 {
        self.seated.as_ref().map_or(0.0, |seated| seated.through_amps(vcc, gnd))
    }

    /// Solves every pin between these rails; returns what they take from the supply rail and from
    /// the ground rail.
    fn currents(&self, pins: &mut Pins, rails: (f64, f64)) -> (f64, f64) {
        let mut taken = (0.0, 0.0);
        let mut branches = Vec::with_capacity(16);
        for ((node, station), volts) in pins.nodes.iter().zip(&mut pins.volts) {
            branches.clear();
            branches.extend_from_slice(station);
            self.pin_branches(*node, rails, &mut branches);
            *volts = solve(&branches, *volts);
            charge(&mut taken, &branches[station.len()..], *volts);
        }
        // Pins that a defect joins to a rail: what they take from the other rail, this one gets.
        if let Some((vcc_node, gnd_node)) = self.wiring.rails {
            for (node, volts) in [(vcc_node, rails.0), (gnd_node, rails.1)] {
                branches.clear();
                self.pin_branches(node, rails, &mut branches);
                charge(&mut taken, &branches, volts);
                let received = total(&branches, volts).0;
                if node == vcc_node {
                    taken.0 -= received;
                } else {
                    taken.1 -= received;
                }
                if vcc_node == gnd_node {
                    break;
                }
            }
        }
        taken
    }
}

/// How exactly the rails' currents must cancel.
const EXACT_AMPS: f64 = 2e-10;

/// Newton's method on both rails at once: exact once on the right pieces. `Err` with the last
/// point where it circles around a kink.
fn approach(
    start: (f64, f64),
    unbalance: &mut impl FnMut((f64, f64)) -> (f64, f64),
) -> Result<(f64, f64), (f64, f64)> {
    const STEP_VOLTS: f64 = 1e-4;
    let size = |amps: (f64, f64)| amps.0.abs() + amps.1.abs();
    let mut at = start;
    let mut amps = unbalance(at);
    for _ in 0..20 {
        if size(amps) < EXACT_AMPS {
            return Ok(at);
        }
        let by_vcc = unbalance((at.0 + STEP_VOLTS, at.1));
        let by_gnd = unbalance((at.0, at.1 + STEP_VOLTS));
        let (a, b) = ((by_vcc.0 - amps.0) / STEP_VOLTS, (by_gnd.0 - amps.0) / STEP_VOLTS);
        let (c, d) = ((by_vcc.1 - amps.1) / STEP_VOLTS, (by_gnd.1 - amps.1) / STEP_VOLTS);
        let determinant = a * d - b * c;
        if determinant == 0.0 {
            return Err(at);
        }
        let step =
            ((b * amps.1 - d * amps.0) / determinant, (c * amps.0 - a * amps.1) / determinant);
        let share = (1.0 / step.0.abs().max(step.1.abs())).min(1.0);
        at = (at.0 + share * step.0, at.1 + share * step.1);
        amps = unbalance(at);
    }
    Err(at)
}

/// Searches ground, and for each trial the supply: slow, but it cannot miss.
fn nested(near: (f64, f64), unbalance: &mut impl FnMut((f64, f64)) -> (f64, f64)) -> (f64, f64) {
    let mut vcc = near.0;
    let gnd = root(near.1, |gnd| {
        vcc = root(vcc, |vcc| unbalance((vcc, gnd)).0);
        unbalance((vcc, gnd)).1
    });
    (root(vcc, |vcc| unbalance((vcc, gnd)).0), gnd)
}

/// Adds what branches take from the supply rail and from the ground rail.
fn charge(taken: &mut (f64, f64), branches: &[Branch], volts: f64) {
    for branch in branches {
        match branch.end {
            End::Vcc => taken.0 += branch.at(volts).0,
            End::Gnd => taken.1 += branch.at(volts).0,
            End::Station | End::Feed => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::mix;
    use crate::{Chip, Defect};
    use dipsift_language::Library;
    use dipsift_pins::{Keepers, Positions, Rail, Socket};

    /// Kirchhoff's current law, summed anew from the voltages that were found.
    fn worst_amps(socket: &SimulatedSocket) -> f64 {
        let (vcc_node, gnd_node) = socket.wiring.rails.unwrap();
        let seated = socket.seated.as_ref().unwrap();
        let (vcc, gnd) = (seated.vcc, seated.gnd);
        let through = seated.through_amps(vcc, gnd);
        let (mut into_vcc, mut into_gnd, mut worst) = (-through, through, 0.0_f64);
        for node in 0..socket.nodes.len() {
            if !socket.wiring.is_of_chip(node) || socket.wiring.nodes[node].positions == 0 {
                continue;
            }
            let volts = socket.nodes[node].volts;
            let mut branches = Vec::new();
            socket.station_branches(node, &mut branches);
            socket.pin_branches(node, (vcc, gnd), &mut branches);
            let into_node = total(&branches, volts).0;
            for branch in &branches {
                match branch.end {
                    End::Vcc => into_vcc -= branch.at(volts).0,
                    End::Gnd => into_gnd -= branch.at(volts).0,
                    End::Station | End::Feed => {}
                }
            }
            if node == vcc_node {
                into_vcc += into_node;
            } else if node == gnd_node {
                into_gnd += into_node;
            } else {
                worst = worst.max(into_node.abs());
            }
        }
        worst.max(into_vcc.abs()).max(into_gnd.abs())
    }

    #[test]
    fn currents_cancel_at_every_node_of_an_unpowered_chip() {
        let library = Library::builtin();
        for number in ["7400", "74125", "74245", "7490", "4017", "4050"] {
            let part = library.part(number).unwrap();
            for &family in &part.made {
                for seed in 0..30 {
                    let mut socket = SimulatedSocket::new(seed);
                    let chip = Chip::new(part.clone(), family, seed).unwrap();
                    let turned = [Defect::TurnedRound];
                    socket.insert(chip, &turned[..(seed % 2) as usize]).unwrap();
                    for step in 0..4 {
                        let dice = mix(seed, step);
                        let rail = [Rail::High, Rail::Low][(dice >> 60 & 1) as usize];
                        socket.keep(Keepers { light: rail, firm: Rail::Off });
                        let driven = Positions::from_bits(dice & mix(dice, 1));
                        let high = Positions::from_bits(mix(dice, 2));
                        let drive = socket.prepare_drive(driven, high);
                        socket.apply(&drive);
                        let amps = worst_amps(&socket);
                        assert!(
                            amps < 1e-7,
                            "{number} in {}, seed {seed}: {amps} A",
                            family.word()
                        );
                    }
                }
            }
        }
    }
}
