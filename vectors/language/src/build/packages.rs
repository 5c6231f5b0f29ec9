//! Pinouts.

use super::pins::role_of_name;
use super::symbols::Builder;
use crate::diagnostic::Span;
use crate::diagnostic::did_you_mean;
use crate::syntax::tree::{Kind, Listed, RawPart, Word};
use crate::{Package, PackageKind, Part, Role};
use std::collections::HashMap;

impl<'a> Builder<'a> {
    /// Reads the pinouts.
    pub fn packages(&mut self, raw: &RawPart, part: &mut Part) {
        let grounds: Vec<&str> = self
            .layered()
            .iter()
            .filter_map(|(_, statement)| match &statement.kind {
                Kind::Listed(Listed::Ground | Listed::Fed, words) => Some(words),
                _ => None,
            })
            .flatten()
            .chain(self.supplies().map(|(word, _)| word))
            .map(|word| word.text.as_str())
            .collect();
        // Such a part is never powered here, and has its own idea of ground.
        let foreign = self.supplies().next().is_some();
        for (_, statement) in self.layered() {
            let Kind::Package { kind, families, pins } = &statement.kind else { continue };
            self.check_package(*kind, pins, &grounds, foreign, statement.span);
            for (family, span) in families {
                if !part.made.contains(family) {
                    self.sink.error(
                        *span,
                        format!("the part is not made in `{}`", family.word()),
                        "expected a family of the `made` statement",
                    );
                }
            }
            let families: Vec<_> = families.iter().map(|(family, _)| *family).collect();
            let same = part.packages.iter().any(|package| {
                package.kind == *kind
                    && (package.families.is_empty() && families.is_empty()
                        || package.families.iter().any(|family| families.contains(family)))
            });
            if same {
                self.sink.error(
                    statement.span,
                    "a pinout stands twice",
                    "expected one for each package and family",
                );
            }
            let pins =
                pins.iter().map(|word| (word.text != "-").then(|| self.enter_pin(word))).collect();
            part.packages.push(Package { kind: *kind, families, pins });
        }
        if raw.broken {
            return;
        }
        let uncovered: Vec<&str> = part
            .made
            .iter()
            .filter(|&&family| part.package(PackageKind::Dip, family).is_none())
            .map(|family| family.word())
            .collect();
        if part.packages.iter().all(|package| package.kind != PackageKind::Dip) {
            self.sink.error(
                raw.number.span,
                "the part has no pinout",
                "expected `dip` and the pins from pin 1 on",
            );
        } else if !uncovered.is_empty() {
            self.sink.error(
                raw.number.span,
                format!("there is no `dip` for {}", uncovered.join(" ")),
                "expected a pinout for every family it was made in",
            );
        }
    }

    /// What the `supply` statements say.
    pub fn supplies(&self) -> impl Iterator<Item = (&'a Word, i32)> + use<'a> {
        let listed =
            self.layered().into_iter().filter_map(|(_, statement)| match &statement.kind {
                Kind::Supply(list) => Some(list),
                _ => None,
            });
        listed.flatten().map(|(word, millivolts)| (word, *millivolts))
    }

    fn check_package(
        &mut self,
        kind: PackageKind,
        pins: &[Word],
        grounds: &[&str],
        foreign: bool,
        span: Span,
    ) {
        let (sizes, name): (&[usize], _) = match kind {
            PackageKind::Dip => {
                (&[4, 6, 8, 14, 16, 18, 20, 22, 24, 28, 32, 36, 40], "a dual in-line package")
            }
            PackageKind::Flat => (&[10, 14, 16, 18, 20, 22, 24, 28, 32], "a flat pack"),
        };
        let place = match (pins.first(), pins.last()) {
            (Some(first), Some(last)) => first.span.to(last.span),
            _ => span,
        };
        if !sizes.contains(&pins.len()) {
            let list = sizes.iter().map(usize::to_string).collect::<Vec<_>>().join(", ");
            self.sink.error(
                place,
                format!("the pinout has {} pins", pins.len()),
                format!("expected the pins of {name}: {list}"),
            );
        }
        let mut seen: HashMap<&str, usize> = HashMap::new();
        for (index, word) in pins.iter().enumerate() {
            let text = word.text.as_str();
            let may_repeat = text == "-" || role_of_name(text).is_some() || grounds.contains(&text);
            if let Some(first) = seen.insert(text, index)
                && !may_repeat
            {
                self.sink.error(
                    word.span,
                    format!("pin `{text}` is named twice"),
                    format!("it is pin {} already, and this is pin {}", first + 1, index + 1),
                );
            }
        }
        for (role, what, names) in [
            (Role::Supply, "supply", "expected VCC or VDD among the pins"),
            (Role::Ground, "ground", "expected GND or VSS among the pins"),
        ] {
            if !foreign && !pins.iter().any(|word| role_of_name(&word.text) == Some(role)) {
                let near: &[&str] =
                    if role == Role::Supply { &["VCC", "VDD"] } else { &["GND", "VSS"] };
                let suggestion = pins.iter().find_map(|word| {
                    did_you_mean(&word.text, near.iter().copied()).filter(|_| word.text.len() == 3)
                });
                self.sink.error_with(place, format!("the pinout has no {what}"), names, suggestion);
            }
        }
    }
}
