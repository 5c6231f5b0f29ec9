//! What the vectors may count on at the socket.

use dipsift_language::{Class, Family, Pin, Word};
use dipsift_wire::{Rail, Step, Strength};

/// The electrical conditions that vectors are made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Conditions {
    /// The family of the chip.
    pub family: Family,
    /// The keeper that loads outputs, pulls open collectors up and proves high impedance: firm
    /// for bipolar families, light for the others.
    pub keeper: Strength,
    /// The resistance between the drivers' levels and the socket, in ohms.
    pub series_ohms: u32,
    /// The light keeper, in ohms.
    pub light_ohms: u32,
    /// The firm keeper, in ohms.
    pub firm_ohms: u32,
    /// The high level of drivers and keepers, in millivolts.
    pub high_mv: u32,
    /// The highest computed low level of a driven input at which its reading is compared, in
    /// millivolts.
    pub low_mv: u32,
}

impl Conditions {
    /// The reference fixture: 220 Ω series resistors and 50 Ω pin drivers at 3.3 V, keepers of
    /// 22 kΩ and 2.2 kΩ.
    pub const fn reference(family: Family) -> Self {
        let keeper = match family.class() {
            Class::Ttl => Strength::Firm,
            Class::Cmos | Class::TtlLevelMos => Strength::Light,
        };
        Self {
            family,
            keeper,
            series_ohms: 270,
            light_ohms: 22_000,
            firm_ohms: 2_200,
            high_mv: 3_300,
            low_mv: 900,
        }
    }

    /// Both rails with [`keeper`](Self::keeper) at a level and the other one off: (light, firm).
    pub const fn rails(&self, rail: Rail) -> (Rail, Rail) {
        match self.keeper {
            Strength::Light => (rail, Rail::Off),
            Strength::Firm => (Rail::Off, rail),
        }
    }

    /// The step that sets those rails.
    pub const fn keep(&self, rail: Rail) -> Step {
        let (light, firm) = self.rails(rail);
        Step::Keep { light, firm }
    }

    /// The computed level of an input that is driven low while `light` and `firm` are the rails,
    /// in millivolts.
    ///
    /// A bipolar input sources current as 4.3 V behind 4 kΩ for each standard load (the base
    /// resistor of the 7400, TI SDLS025 schematic; 4.3 V is the supply less one junction, from
    /// memory), other families in proportion to their input low current.
    pub fn driven_low_mv(&self, pin: &Pin, light: Rail, firm: Rail) -> u32 {
        let mut siemens = 1.0 / f64::from(self.series_ohms);
        let mut current = self.input_source(pin, &mut siemens);
        for (rail, ohms) in [(light, self.light_ohms), (firm, self.firm_ohms)] {
            if rail != Rail::Off {
                siemens += 1.0 / f64::from(ohms);
            }
            if rail == Rail::High {
                current += f64::from(self.high_mv) / f64::from(ohms);
            }
        }
        (current / siemens).round() as u32
    }

    /// Whether the keeper can hold a pin low against its own input, which is needed to prove a
    /// bidirectional pin released.
    pub(crate) fn keeps_low(&self, pin: &Pin) -> bool {
        let ohms = match self.keeper {
            Strength::Light => self.light_ohms,
            Strength::Firm => self.firm_ohms,
        };
        let mut siemens = 1.0 / f64::from(ohms);
        let current = self.input_source(pin, &mut siemens);
        current / siemens < f64::from(self.low_mv)
    }

    /// The current that an input sources into ground, in milliamperes; its conductance is added to `siemens`.
    fn input_source(&self, pin: &Pin, siemens: &mut f64) -> f64 {
        const CHIP_MV: f64 = 4_300.0;
        const BASE_OHMS: f64 = 4_000.0;
        let standard_loads =
            input_low_ua(self.family) / 1_600.0 * f64::from(pin.load_tenths) / 10.0;
        *siemens += standard_loads / BASE_OHMS;
        CHIP_MV * standard_loads / BASE_OHMS
    }

    /// Whether the reading of an input that is driven low is worth comparing.
    pub fn reads_low(&self, pin: &Pin, light: Rail, firm: Rail) -> bool {
        self.driven_low_mv(pin, light, firm) < self.low_mv
    }

    /// What the chip takes an input for that nothing but the keepers holds.
    pub(crate) fn floating_input(&self, light: Rail, firm: Rail) -> Word {
        let rail = if firm == Rail::Off { light } else { firm };
        match (rail, self.family.class()) {
            (Rail::High, _) => Word::HIGH,
            (Rail::Low, Class::Cmos | Class::TtlLevelMos) => Word::LOW,
            // A bipolar input holds itself near its threshold against a keeper.
            (Rail::Low, Class::Ttl) | (Rail::Off, _) => Word::UNKNOWN,
        }
    }

    /// What the station reads at an output that is off.
    pub(crate) fn floating_output(&self, light: Rail, firm: Rail) -> Word {
        let rail = match self.family.class() {
            // Leakage of bipolar outputs can outdo the light keeper.
            Class::Ttl => firm,
            Class::Cmos | Class::TtlLevelMos if firm == Rail::Off => light,
            Class::Cmos | Class::TtlLevelMos => firm,
        };
        match rail {
            Rail::High => Word::HIGH,
            Rail::Low => Word::LOW,
            Rail::Off => Word::UNKNOWN,
        }
    }
}

/// The largest input low current of one unit load, in microamperes. 74 and LS: TI SDLS025B,
/// Motorola FAST/LS data book; ALS: TI SDAS187A; the others from memory. MOS inputs take none.
fn input_low_ua(family: Family) -> f64 {
    match family {
        Family::Standard => 1_600.0,
        Family::H | Family::S => 2_000.0,
        Family::L => 180.0,
        Family::Ls => 400.0,
        Family::Als => 100.0,
        Family::As => 500.0,
        Family::F => 600.0,
        Family::C
        | Family::Hc
        | Family::Hct
        | Family::Ac
        | Family::Act
        | Family::B
        | Family::Ub
        | Family::Nmos => 0.0,
    }
}
