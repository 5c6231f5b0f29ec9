//! The symbol files and their pins.

use super::compare::{Pinout, Terminal, plain};
use super::sexpr::{Expression, parse};
use std::collections::HashMap;
use std::process::Command;

/// Tells the package and its version.
pub const VERSION_COMMAND: [&str; 4] =
    ["dpkg-query", "--show", "--showformat=${Package} ${Version}", "kicad-symbols"];

const FOLDER: &str = "/usr/share/kicad/symbols";
const FILES: [&str; 5] = [
    "74xx.kicad_sym",
    "4xxx.kicad_sym",
    "MCU_Module.kicad_sym",
    "Memory_RAM.kicad_sym",
    "Memory_EPROM.kicad_sym",
];

/// Memories whose symbol has another name than their number.
const MEMORIES: [(&str, &str); 2] = [("62256", "HM62256BLP"), ("628128", "628128_DIP32_SSOP32")];

/// The symbols of the files, by name.
pub struct Symbols {
    symbols: HashMap<String, Vec<Expression>>,
}

impl Symbols {
    /// Reads the installed files.
    pub fn installed() -> Result<Self, String> {
        let mut symbols = HashMap::new();
        for file in FILES {
            let path = format!("{FOLDER}/{file}");
            let text = std::fs::read_to_string(&path).map_err(|error| {
                format!("{path}: {error}; this check needs them: apt-get install kicad-symbols")
            })?;
            let library = parse(&text).map_err(|error| format!("{path}: {error}"))?;
            let items = library.list("kicad_symbol_lib").ok_or(format!("{path}: no library"))?;
            for symbol in items.iter().filter_map(|item| item.list("symbol")) {
                if let Some(name) = symbol.get(1).and_then(Expression::text) {
                    symbols.insert(name.to_owned(), symbol.to_vec());
                }
            }
        }
        Ok(Self { symbols })
    }

    /// Name and version of the installed package.
    pub fn version() -> Result<String, String> {
        let [program, arguments @ ..] = VERSION_COMMAND;
        let output = Command::new(program)
            .args(arguments)
            .output()
            .map_err(|error| format!("{program}: {error}"))?;
        Ok(String::from_utf8_lossy(&output.stdout).into_owned())
    }

    /// The symbol of a part: the LS one of the 74 series where there is one.
    pub fn name(&self, number: &str) -> Option<String> {
        let candidates = match number.strip_prefix("74") {
            Some(function) => vec![format!("74LS{function}"), format!("74HC{function}")],
            None => {
                let other = MEMORIES.iter().find(|(memory, _)| *memory == number);
                vec![other.map_or(number, |(_, symbol)| symbol).to_owned()]
            }
        };
        candidates.into_iter().find(|name| self.symbols.contains_key(name))
    }

    /// The pins of a symbol.
    pub fn pinout(&self, name: &str) -> Result<Pinout, String> {
        let symbol = self.symbols.get(name).ok_or(format!("{name}: no such symbol"))?;
        let extended = symbol.iter().find_map(|item| item.list("extends")?.get(1)?.text());
        if let Some(base) = extended {
            return self.pinout(base);
        }
        let mut pinout = Pinout::default();
        for unit in symbol.iter().filter_map(|item| item.list("symbol")) {
            let title = unit.get(1).and_then(Expression::text).unwrap_or_default();
            // NAME_UNIT_STYLE; style 2 is the same gate drawn by De Morgan's law.
            let mut parts = title.rsplit('_');
            let style = parts.next().unwrap_or_default();
            let section = parts.next().and_then(|unit| unit.parse().ok());
            if style == "2" {
                continue;
            }
            for pin in unit.iter().filter_map(|item| item.list("pin")) {
                let (number, terminal) = terminal(pin, section)
                    .ok_or_else(|| format!("{name}: a pin that cannot be read"))?;
                pinout.pins.insert(number, terminal);
            }
        }
        Ok(pinout)
    }
}

/// A pin: `(pin TYPE SHAPE … (name "X" …) (number "1" …))`.
fn terminal(pin: &[Expression], section: Option<u8>) -> Option<(u8, Terminal)> {
    let field = |head| pin.iter().find_map(|item| item.list(head)?.get(1)?.text());
    let (kind, shape) = (pin.get(1)?.text()?, pin.get(2)?.text()?);
    let name = field("name")?;
    let plain = plain(name);
    let kind = match kind {
        "power_in" if matches!(plain.as_str(), "VCC" | "VDD") => "supply",
        "power_in" if matches!(plain.as_str(), "GND" | "VSS") => "ground",
        "input" => "input",
        "output" => "output",
        "tri_state" => "three-state",
        "open_collector" => "open collector",
        "bidirectional" => "bidirectional",
        "no_connect" | "free" => "not connected",
        other => other,
    };
    let terminal = Terminal {
        kind: kind.to_owned(),
        low: name.starts_with("~{") || matches!(shape, "inverted" | "input_low" | "output_low"),
        clock: shape.contains("clock"),
        name: plain,
        section,
    };
    Some((field("number")?.parse().ok()?, terminal))
}
