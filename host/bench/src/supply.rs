//! Which supply a family gets on this fixture.

use dipsift_language::{Class, Family, Part};
use dipsift_wire::{Strength, Voltage};

/// The current limit where the description sets none.
const DEFAULT_LIMIT_MA: u32 = 150;

/// How a part is powered and loaded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SupplyChoice {
    /// The supply voltage.
    pub voltage: Voltage,
    /// Why, for people.
    pub reason: &'static str,
    /// The current limit in microamperes.
    pub limit_ua: u32,
    /// The keeper that its outputs are loaded and proven released with.
    pub keeper: Strength,
    /// The settling time after each change in nanoseconds.
    pub settle_ns: u32,
}

impl SupplyChoice {
    /// The supply of a part in a family.
    pub fn of(part: &Part, family: Family) -> Self {
        let (voltage, reason) = match family {
            Family::Hct | Family::Act => {
                (Voltage::V5, "5 V: its inputs take the 3.3 V levels of this tester as TTL levels")
            }
            Family::Nmos => (Voltage::V5, "5 V: MOS with TTL levels"),
            Family::C | Family::Hc | Family::Ac => (
                Voltage::V3_3,
                "3.3 V: at 5 V its inputs need 3.5 V for a high, and this tester drives 3.3 V",
            ),
            Family::B | Family::Ub => (
                Voltage::V3_3,
                "3.3 V: at 5 V its inputs need 3.5 V for a high, and this tester drives 3.3 V; \
                 its maker specifies 5, 10 and 15 V, so weak or slow is not decided here",
            ),
            Family::Standard
            | Family::H
            | Family::L
            | Family::S
            | Family::Ls
            | Family::Als
            | Family::As
            | Family::F => (Voltage::V5, "5 V: TTL"),
        };
        let slow = matches!(family, Family::B | Family::Ub | Family::C);
        Self {
            voltage,
            reason,
            limit_ua: part.limit_ma.unwrap_or(DEFAULT_LIMIT_MA) * 1_000,
            keeper: if family.class() == Class::Ttl { Strength::Firm } else { Strength::Light },
            settle_ns: if slow { 3_000 } else { 1_000 },
        }
    }

    /// The supply voltage in millivolts.
    pub const fn millivolts(&self) -> u32 {
        match self.voltage {
            Voltage::V3_3 => 3_300,
            Voltage::V5 => 5_000,
        }
    }

    /// Whether the part runs below any supply that its maker specifies, so that weak or slow
    /// proves nothing. The 4000B and 4000UB data sheets specify 5, 10 and 15 V (National
    /// CD4001BC/CD4011BC data sheet); 74C is specified from 3 V (National MM54C00/MM74C00).
    pub const fn below_specification(family: Family) -> bool {
        matches!(family, Family::B | Family::Ub)
    }
}
