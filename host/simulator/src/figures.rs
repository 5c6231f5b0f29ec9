//! Electrical figures of the logic families.
//!
//! Where a data sheet gives a typical figure, that is used for what a good chip does (thresholds,
//! output levels, delays), and the limit for what it may burden the socket with (input currents,
//! leakages): the stricter choice each time.

use dipsift_language::Family;

/// How an input judges a voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Threshold {
    /// At fixed voltages above the chip's ground: guaranteed low, typical, guaranteed high.
    Volts {
        /// At or below it the level is guaranteed low.
        low: f64,
        /// Where a typical chip switches.
        typical: f64,
        /// At or above it the level is guaranteed high.
        high: f64,
    },
    /// At shares of the supply, likewise.
    Share {
        /// At or below it the level is guaranteed low.
        low: f64,
        /// Where a typical chip switches.
        typical: f64,
        /// At or above it the level is guaranteed high.
        high: f64,
    },
}

impl Threshold {
    /// The three voltages at a supply voltage: guaranteed low, typical, guaranteed high.
    pub fn at(self, supply_volts: f64) -> (f64, f64, f64) {
        match self {
            Self::Volts { low, typical, high } => (low, typical, high),
            Self::Share { low, typical, high } => {
                (low * supply_volts, typical * supply_volts, high * supply_volts)
            }
        }
    }
}

/// A figure at 3.3 V and at 5 V; in between and beyond, on the straight line through both,
/// kept above a tenth of the smaller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// At 3.3 V.
    pub at_3v3: f64,
    /// At 5 V.
    pub at_5v: f64,
}

impl Pair {
    const fn same(value: f64) -> Self {
        Self { at_3v3: value, at_5v: value }
    }

    /// At any supply voltage.
    pub fn at(self, supply_volts: f64) -> f64 {
        let slope = (self.at_5v - self.at_3v3) / 1.7;
        let floor = 0.1 * self.at_3v3.min(self.at_5v);
        (self.at_3v3 + slope * (supply_volts - 3.3)).max(floor)
    }
}

/// What one family does at its pins. Voltages in volts, currents in amperes, resistances in ohms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// How inputs judge.
    pub threshold: Threshold,
    /// Between which voltages a Schmitt input keeps its level: falling, rising.
    pub hysteresis: Threshold,
    /// A bipolar input's resistor to the supply for one unit load; `None` for a MOS input.
    pub input_ohms: Option<f64>,
    /// What an input takes at a high level.
    pub input_high_amps: f64,
    /// Whether inputs and outputs have a diode to the supply.
    pub upper_diode: bool,
    /// An output's low level without load, above ground.
    pub low_volts: f64,
    /// An output's resistance when low.
    pub low_ohms: Pair,
    /// How far below the supply an output's high level is without load.
    pub high_drop_volts: f64,
    /// An output's resistance when high.
    pub high_ohms: Pair,
    /// What a disabled three-state output leaks, either way.
    pub three_state_amps: f64,
    /// What an open-collector output leaks when high.
    pub open_amps: f64,
    /// Propagation delay.
    pub delay_seconds: Pair,
    /// Supply current for one gate's worth of circuit at 5 V.
    pub gate_amps: f64,
    /// Supply current of a whole chip beside its gates.
    pub idle_amps: f64,
    /// Below it nothing inside conducts from supply to ground.
    pub conducts_volts: f64,
    /// Below it the outputs are off.
    pub stirs_volts: f64,
    /// Below it, and above `stirs_volts`, the outputs are without sense.
    pub works_volts: f64,
}

/// The forward voltage of a clamp or substrate diode at small currents: silicon, 0.6 V; from
/// memory. A 7400 input clamps at -1.5 V at most at -12 mA (TI SDLS025B, electrical
/// characteristics); with [`DIODE_OHMS`] it is 0.84 V here.
pub const DIODE_VOLTS: f64 = 0.6;
/// The resistance of a pin's clamp or substrate diode.
pub const DIODE_OHMS: f64 = 20.0;
/// The resistance of the substrate diode between the supply pins. From memory: a reversed chip
/// takes hundreds of milliamperes.
pub const SUPPLY_DIODE_OHMS: f64 = 4.0;
/// A bipolar input leaves its resistor at this voltage: two junctions, from memory. It is where
/// an open input floats.
pub const FLOAT_VOLTS: f64 = 1.4;
/// A bipolar input's resistor ends one junction below the supply, from memory.
pub const INPUT_DROP_VOLTS: f64 = 0.7;

/// VIL 0.8 V and VIH 2.0 V: TI SDLS025B (SN7400, SN74LS00, SN74S00), recommended operating
/// conditions. The typical point is common practice: two junctions less the input transistor.
const TTL: Threshold = Threshold::Volts { low: 0.8, typical: 1.35, high: 2.0 };
/// As [`TTL`], with 0.7 V as the guaranteed low of low-power TTL; from memory.
const LOW_POWER: Threshold = Threshold::Volts { low: 0.7, typical: 1.3, high: 2.0 };
/// VIL 1.35 V and VIH 3.15 V at 4.5 V: TI CD74HC147, static characteristics.
const HC: Threshold = Threshold::Share { low: 0.3, typical: 0.5, high: 0.7 };
/// VIL 1.5 V and VIH 3.5 V at 5 V: NSC CD4001BC, dc electrical characteristics.
const CMOS: Threshold = Threshold::Share { low: 0.3, typical: 0.5, high: 0.7 };
/// VIL 1.0 V and VIH 4.0 V at 5 V; from memory.
const UNBUFFERED: Threshold = Threshold::Share { low: 0.2, typical: 0.5, high: 0.8 };
/// VT- 0.9 V and VT+ 1.7 V, SN7414 typical; from memory.
const TTL_HYSTERESIS: Threshold = Threshold::Volts { low: 0.9, typical: 1.3, high: 1.7 };
/// HC14 at 4.5 V typical 1.6 V and 2.4 V as shares; from memory.
const CMOS_HYSTERESIS: Threshold = Threshold::Share { low: 0.36, typical: 0.45, high: 0.53 };

/// A unit load's resistor from its IIL limit: standard TTL's 4 kΩ belongs to 1.6 mA, and other
/// families scale with theirs.
const fn unit_ohms(low_milliamps: f64) -> f64 {
    4_000.0 * 1.6 / low_milliamps
}

/// Standard TTL.
const STANDARD: Figures = Figures {
    threshold: TTL,
    hysteresis: TTL_HYSTERESIS,
    // IIL -1.6 mA, IIH 40 µA: SN7400, TI SDLS025B; from memory.
    input_ohms: Some(unit_ohms(1.6)),
    input_high_amps: 40e-6,
    upper_diode: false,
    // VOL typical 0.2 V at 16 mA: SN7400, TI SDLS025B; from memory.
    low_volts: 0.05,
    low_ohms: Pair::same(10.0),
    // VOH typical 3.4 V at -0.4 mA, 130 Ω in the collector: SN7400, TI SDLS025B; from memory.
    high_drop_volts: 1.5,
    high_ohms: Pair::same(130.0),
    // IOZ 40 µA: SN74125; from memory.
    three_state_amps: 40e-6,
    // IOH 250 µA at 5.5 V: SN7403; from memory.
    open_amps: 250e-6,
    // tPLH typical 11 ns: SN7400, TI SDLS025B.
    delay_seconds: Pair::same(11e-9),
    // 10 mW a gate: FOLDOC, "74 series".
    gate_amps: 2e-3,
    idle_amps: 0.0,
    // Design of a two-transistor chain, from memory.
    conducts_volts: 2.0,
    // Three junctions and a saturated transistor, from memory.
    stirs_volts: 2.5,
    // Recommended from 4.75 V: TI SDLS025B; a typical chip gives up near 4 V, common practice.
    works_volts: 4.0,
};

/// High-speed TTL. IIL -2 mA, IIH 50 µA, 58 Ω collector: from memory; 6 ns, 22 mW: FOLDOC.
const HIGH_SPEED: Figures = Figures {
    input_ohms: Some(unit_ohms(2.0)),
    input_high_amps: 50e-6,
    high_ohms: Pair::same(58.0),
    delay_seconds: Pair::same(6e-9),
    gate_amps: 4.4e-3,
    ..STANDARD
};

/// Low-power TTL. IIL -0.18 mA, IIH 10 µA, VOL 0.4 V at 3.6 mA, 500 Ω collector: from memory;
/// 33 ns, 1 mW: FOLDOC.
const LOW_POWER_TTL: Figures = Figures {
    threshold: LOW_POWER,
    input_ohms: Some(unit_ohms(0.18)),
    input_high_amps: 10e-6,
    low_volts: 0.1,
    low_ohms: Pair::same(40.0),
    high_ohms: Pair::same(500.0),
    open_amps: 100e-6,
    delay_seconds: Pair::same(33e-9),
    gate_amps: 0.2e-3,
    ..STANDARD
};

/// Schottky TTL. IIL -2 mA, IIH 50 µA, IOZ 50 µA, 50 Ω collector: from memory; 3 ns, 19 mW:
/// FOLDOC.
const SCHOTTKY: Figures = Figures {
    input_ohms: Some(unit_ohms(2.0)),
    input_high_amps: 50e-6,
    low_volts: 0.2,
    high_ohms: Pair::same(50.0),
    three_state_amps: 50e-6,
    delay_seconds: Pair::same(3e-9),
    gate_amps: 3.8e-3,
    ..STANDARD
};

/// Low-power Schottky TTL.
const LOW_POWER_SCHOTTKY: Figures = Figures {
    // IIL -0.4 mA, IIH 20 µA: SN74LS00, TI SDLS025B.
    input_ohms: Some(unit_ohms(0.4)),
    input_high_amps: 20e-6,
    // VOL typical 0.25 V at 4 mA and 0.35 V at 8 mA: SN74LS00, TI SDLS025B.
    low_volts: 0.15,
    low_ohms: Pair::same(25.0),
    // VOH typical 3.4 V; IOS -20 to -100 mA: SN74LS00, TI SDLS025B.
    high_drop_volts: 1.5,
    high_ohms: Pair::same(110.0),
    // IOZ 20 µA, SN74LS125A; from memory.
    three_state_amps: 20e-6,
    // IOH 100 µA, SN74LS03 and SN74LS181 output A=B: from memory.
    open_amps: 100e-6,
    // 9.5 ns, 2 mW: SN74LS00, TI SDLS025B.
    delay_seconds: Pair::same(9.5e-9),
    gate_amps: 0.4e-3,
    ..STANDARD
};

/// Advanced low-power Schottky. IIL -0.1 mA, IIH 20 µA, 4 ns, 1 mW a package's gate: Philips
/// 74ALS00A; works from 4.5 V: TI SDAS187A; output resistances from memory.
const ADVANCED_LOW_POWER: Figures = Figures {
    input_ohms: Some(unit_ohms(0.1)),
    delay_seconds: Pair::same(4e-9),
    gate_amps: 0.25e-3,
    ..LOW_POWER_SCHOTTKY
};

/// Advanced Schottky. IIL -0.5 mA: from memory; 20 mA low, 2 mA high: TI SDAS187A; 1.7 ns, 8 mW:
/// FOLDOC.
const ADVANCED_SCHOTTKY: Figures = Figures {
    input_ohms: Some(unit_ohms(0.5)),
    low_ohms: Pair::same(10.0),
    high_ohms: Pair::same(26.0),
    three_state_amps: 50e-6,
    delay_seconds: Pair::same(1.7e-9),
    gate_amps: 1.7e-3,
    ..LOW_POWER_SCHOTTKY
};

/// Fast TTL. IIL -0.6 mA, IIH 20 µA, IOZ 50 µA, 3.5 ns, 4 mW: from memory; open collector 250 µA:
/// 74F181, from memory.
const FAST: Figures = Figures {
    input_ohms: Some(unit_ohms(0.6)),
    low_ohms: Pair::same(10.0),
    high_ohms: Pair::same(45.0),
    three_state_amps: 50e-6,
    open_amps: 250e-6,
    delay_seconds: Pair::same(3.5e-9),
    gate_amps: 0.9e-3,
    ..LOW_POWER_SCHOTTKY
};

/// High-speed CMOS.
const HIGH_SPEED_CMOS: Figures = Figures {
    threshold: HC,
    hysteresis: CMOS_HYSTERESIS,
    input_ohms: None,
    // At most 1 µA: TI CD74HC147.
    input_high_amps: 0.0,
    upper_diode: true,
    // VOL at most 0.33 V at 4 mA and 4.5 V, 85 °C: TI CD74HC147. That is 80 Ω at most.
    low_volts: 0.0,
    low_ohms: Pair { at_3v3: 80.0, at_5v: 50.0 },
    high_drop_volts: 0.0,
    high_ohms: Pair { at_3v3: 90.0, at_5v: 60.0 },
    // IOZ at most 5 µA, open drain likewise: from memory.
    three_state_amps: 5e-6,
    open_amps: 5e-6,
    // 9 ns at 4.5 V; from memory, and half as much again at 3.3 V.
    delay_seconds: Pair { at_3v3: 14e-9, at_5v: 9e-9 },
    gate_amps: 0.0,
    // ICC at most 20 µA for gates at 85 °C: from memory.
    idle_amps: 20e-6,
    conducts_volts: 0.0,
    // One and a half thresholds, from memory.
    stirs_volts: 1.0,
    // From 2 V: TI CD74HC147, recommended operating conditions.
    works_volts: 2.0,
};

/// High-speed CMOS with TTL levels: VIL 0.8 V, VIH 2.0 V, 4.5 to 5.5 V: TI CD74HCT21.
const HIGH_SPEED_TTL_LEVELS: Figures = Figures {
    threshold: Threshold::Volts { low: 0.8, typical: 1.4, high: 2.0 },
    hysteresis: TTL_HYSTERESIS,
    delay_seconds: Pair::same(11e-9),
    works_volts: 4.0,
    ..HIGH_SPEED_CMOS
};

/// Advanced CMOS: VOL at most 0.44 V at 24 mA and 4.5 V: onsemi MC74AC32; 5.5 ns: from memory.
const ADVANCED_CMOS: Figures = Figures {
    low_ohms: Pair { at_3v3: 18.0, at_5v: 12.0 },
    high_ohms: Pair { at_3v3: 22.0, at_5v: 15.0 },
    delay_seconds: Pair { at_3v3: 8e-9, at_5v: 5.5e-9 },
    ..HIGH_SPEED_CMOS
};

/// Advanced CMOS with TTL levels: as AC and HCT.
const ADVANCED_TTL_LEVELS: Figures = Figures {
    threshold: HIGH_SPEED_TTL_LEVELS.threshold,
    hysteresis: TTL_HYSTERESIS,
    works_volts: 4.0,
    ..ADVANCED_CMOS
};

/// The 4000 series, buffered.
const BUFFERED: Figures = Figures {
    threshold: CMOS,
    // IOL typical 0.88 mA at 0.4 V and 5 V: NSC CD4001BC. About 0.15 mA at 3.3 V, which makers do
    // not specify: from memory.
    low_ohms: Pair { at_3v3: 2_700.0, at_5v: 450.0 },
    high_ohms: Pair { at_3v3: 2_700.0, at_5v: 450.0 },
    three_state_amps: 0.4e-6,
    open_amps: 0.5e-6,
    // 120 ns at 5 V: NSC CD4001BC, typical; two to three times that at 3.3 V: from memory.
    delay_seconds: Pair { at_3v3: 300e-9, at_5v: 120e-9 },
    // At most 1 µA for gates at 25 °C: NSC CD4001BC.
    idle_amps: 1e-6,
    // Both thresholds in series, from memory.
    stirs_volts: 1.5,
    // From 3 V: NSC CD4001BC.
    works_volts: 3.0,
    ..HIGH_SPEED_CMOS
};

/// The 4000 series, unbuffered; drive and delay as buffered, from memory.
const UNBUFFERED_4000: Figures = Figures { threshold: UNBUFFERED, ..BUFFERED };

/// CMOS with 7400 pinouts: 3 to 15 V, two low-power TTL loads: NSC MM54C00; 50 ns at 5 V.
const CMOS_7400: Figures = Figures {
    // 0.36 mA at 0.4 V and 4.75 V, so at most 1.1 kΩ.
    low_ohms: Pair { at_3v3: 2_000.0, at_5v: 700.0 },
    high_ohms: Pair { at_3v3: 2_000.0, at_5v: 700.0 },
    delay_seconds: Pair { at_3v3: 120e-9, at_5v: 50e-9 },
    ..BUFFERED
};

/// MOS with TTL levels on 5 V: inputs leak 10 µA at most, outputs carry 2.1 mA at 0.4 V, high is
/// 2.4 V at -1 mA, 30 to 100 mA of supply; from memory of 2114 data sheets.
const NMOS: Figures = Figures {
    threshold: HIGH_SPEED_TTL_LEVELS.threshold,
    hysteresis: TTL_HYSTERESIS,
    input_ohms: None,
    input_high_amps: 0.0,
    upper_diode: false,
    low_volts: 0.0,
    low_ohms: Pair::same(120.0),
    high_drop_volts: 1.0,
    high_ohms: Pair::same(600.0),
    three_state_amps: 10e-6,
    open_amps: 10e-6,
    delay_seconds: Pair::same(100e-9),
    gate_amps: 0.0,
    idle_amps: 50e-3,
    conducts_volts: 2.0,
    stirs_volts: 2.5,
    works_volts: 4.0,
};

/// A family's figures.
pub const fn figures(family: Family) -> &'static Figures {
    match family {
        Family::Standard => &STANDARD,
        Family::H => &HIGH_SPEED,
        Family::L => &LOW_POWER_TTL,
        Family::S => &SCHOTTKY,
        Family::Ls => &LOW_POWER_SCHOTTKY,
        Family::Als => &ADVANCED_LOW_POWER,
        Family::As => &ADVANCED_SCHOTTKY,
        Family::F => &FAST,
        Family::C => &CMOS_7400,
        Family::Hc => &HIGH_SPEED_CMOS,
        Family::Hct => &HIGH_SPEED_TTL_LEVELS,
        Family::Ac => &ADVANCED_CMOS,
        Family::Act => &ADVANCED_TTL_LEVELS,
        Family::B => &BUFFERED,
        Family::Ub => &UNBUFFERED_4000,
        Family::Nmos => &NMOS,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unit_loads_scale_with_the_input_current() {
        assert_eq!(figures(Family::Standard).input_ohms, Some(4_000.0));
        assert_eq!(figures(Family::Ls).input_ohms, Some(16_000.0));
        assert_eq!(figures(Family::H).input_ohms, Some(3_200.0));
    }

    #[test]
    fn typical_figures_keep_the_published_limits() {
        // VOL at most 0.4 V at 16 mA and VOH at least 2.4 V at -0.4 mA: SN7400, TI SDLS025B.
        let std = figures(Family::Standard);
        assert!(std.low_volts + 16e-3 * std.low_ohms.at_5v <= 0.4);
        assert!(4.75 - std.high_drop_volts - 0.4e-3 * std.high_ohms.at_5v >= 2.4);
        // VOL at most 0.5 V at 8 mA and VOH at least 2.7 V at -0.4 mA: SN74LS00, TI SDLS025B.
        let ls = figures(Family::Ls);
        assert!(ls.low_volts + 8e-3 * ls.low_ohms.at_5v <= 0.5);
        assert!(4.75 - ls.high_drop_volts - 0.4e-3 * ls.high_ohms.at_5v >= 2.7);
        // VOL at most 0.33 V at 4 mA: TI CD74HC147. VOL at most 0.44 V at 24 mA: onsemi MC74AC32.
        assert!(4e-3 * figures(Family::Hc).low_ohms.at(4.5) <= 0.33);
        assert!(24e-3 * figures(Family::Ac).low_ohms.at(4.5) <= 0.44);
        // 0.4 V at 0.44 mA: NSC CD4001BC.
        assert!(0.44e-3 * figures(Family::B).low_ohms.at(5.0) <= 0.4);
    }

    #[test]
    fn a_4000_series_output_at_3v3_gives_a_sixth_of_a_milliampere() {
        let amps = 0.4 / figures(Family::B).low_ohms.at(3.3);
        assert!((0.14e-3..0.2e-3).contains(&amps), "{amps}");
    }
}
