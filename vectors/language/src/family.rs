//! Logic families.

/// A family in which a function was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// Standard TTL, 7400.
    Standard,
    /// High-speed TTL, 74H00.
    H,
    /// Low-power TTL, 74L00.
    L,
    /// Schottky TTL, 74S00.
    S,
    /// Low-power Schottky TTL, 74LS00.
    Ls,
    /// Advanced low-power Schottky TTL, 74ALS00.
    Als,
    /// Advanced Schottky TTL, 74AS00.
    As,
    /// Fast TTL, 74F00.
    F,
    /// CMOS with 7400 pinouts and 4000-series levels, 74C00.
    C,
    /// High-speed CMOS, 74HC00.
    Hc,
    /// High-speed CMOS with TTL input levels, 74HCT00.
    Hct,
    /// Advanced CMOS, 74AC00.
    Ac,
    /// Advanced CMOS with TTL input levels, 74ACT00.
    Act,
    /// The buffered 4000 series, 4001B.
    B,
    /// The unbuffered 4000 series, 4001UB.
    Ub,
    /// MOS parts with TTL levels on one 5 V supply: memories and peripherals.
    Nmos,
}

/// What the families of one kind have in common at a socket.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Bipolar: inputs source current and float high.
    Ttl,
    /// Complementary MOS whose inputs switch at a share of the supply: an open input is undefined.
    Cmos,
    /// MOS inputs with TTL levels on 5 V: an open input is undefined.
    TtlLevelMos,
}

impl Family {
    /// Every family.
    pub const ALL: [Self; 16] = [
        Self::Standard,
        Self::H,
        Self::L,
        Self::S,
        Self::Ls,
        Self::Als,
        Self::As,
        Self::F,
        Self::C,
        Self::Hc,
        Self::Hct,
        Self::Ac,
        Self::Act,
        Self::B,
        Self::Ub,
        Self::Nmos,
    ];

    /// The word that stands for it in a description: `74`, `LS`, `4000B`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Standard => "74",
            Self::H => "H",
            Self::L => "L",
            Self::S => "S",
            Self::Ls => "LS",
            Self::Als => "ALS",
            Self::As => "AS",
            Self::F => "F",
            Self::C => "C",
            Self::Hc => "HC",
            Self::Hct => "HCT",
            Self::Ac => "AC",
            Self::Act => "ACT",
            Self::B => "4000B",
            Self::Ub => "4000UB",
            Self::Nmos => "NMOS",
        }
    }

    /// The family that a word stands for.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|family| family.word() == word)
    }

    /// What it has in common with others at a socket.
    pub const fn class(self) -> Class {
        match self {
            Self::Standard
            | Self::H
            | Self::L
            | Self::S
            | Self::Ls
            | Self::Als
            | Self::As
            | Self::F => Class::Ttl,
            Self::C | Self::Hc | Self::Ac | Self::B | Self::Ub => Class::Cmos,
            Self::Hct | Self::Act | Self::Nmos => Class::TtlLevelMos,
        }
    }
}
