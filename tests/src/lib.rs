//! Checks of the part library against the outside: function tables and arithmetic written from
//! data sheets, pinouts of another project's symbol library, and mutations that these must catch.
//!
//! Everything here speaks of pins by their number in the dual in-line package, so that a wrong
//! pinout shows as well as a wrong function. Nothing here is derived from the descriptions.

pub mod arithmetic;
pub mod bench;
pub mod cases;
pub mod desk;
pub mod families;
pub mod kicad;
pub mod mutation;
pub mod reference;
pub mod rules;
pub mod table;

/// What a check found: nothing, or what differs, in words.
pub type Check = Result<(), String>;

/// The memories that kicad-symbols has a symbol of.
pub const MEMORIES_WITH_SYMBOLS: &[&str] =
    &["2764", "27128", "27256", "27512", "27C010", "62256", "628128"];

/// The parts that the reference data covers.
pub const PARTS: &[&str] = &[
    "7400", "7402", "7403", "7404", "7406", "7408", "7414", "7420", "7430", "7432", "7442", "7447",
    "7451", "7473", "7474", "7475", "7476", "7483", "7485", "7486", "7490", "7492", "7493",
    "74107", "74109", "74112", "74125", "74138", "74139", "74148", "74151", "74153", "74154",
    "74157", "74161", "74163", "74164", "74165", "74173", "74181", "74190", "74192", "74193",
    "74194", "74240", "74244", "74245", "74251", "74273", "74279", "74299", "74373", "74374",
    "74393", "74541", "74595", "74670", "4001", "4011", "4013", "4017", "4020", "4027", "4040",
    "4049", "4050", "4511", "4516", "4518",
];
