//! Part numbers as people type them: `7400`, `74ls00`, `54H10`, `4049UB`, `6264-15`.

use crate::{Alias, Choice, Family, Library, Part};

/// A part number, understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartName {
    /// The number in the library: `7400`, `744040`, `6264`.
    pub number: String,
    /// The family.
    pub family: Family,
    /// The temperature prefix, where one other than 74 was given: `54`.
    pub prefix: Option<String>,
    /// The speed mark after the dash, where one was given: `15`.
    pub speed: Option<String>,
    /// What was assumed, as a sentence to print.
    pub assumed: Option<String>,
}

/// Why a part number was not understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PartNameError {
    /// It is not a part number at all.
    #[error("`{0}` is not a part number; expected one such as 7400, 74LS00, 4017 or 6264-15")]
    Malformed(String),
    /// No such part is described.
    #[error("there is no part {number} in the library{}", list(.near))]
    Unknown {
        /// The number that was looked for.
        number: String,
        /// Numbers that look like it.
        near: Vec<String>,
    },
    /// Several chips have the number.
    #[error("{number} is the number of several chips, fed at different pins: {}", say(.choices))]
    Ambiguous {
        /// The number.
        number: String,
        /// The chips.
        choices: Vec<Choice>,
    },
    /// A maker's marking that too few sources explain.
    #[error(
        "{marking} is taken for a {part} {}; two independent sources are wanted before it is \
         powered: say {part} if the data sheet agrees", told(.sources)
    )]
    Untrusted {
        /// The marking.
        marking: String,
        /// The part it seems to be.
        part: String,
        /// Who says so.
        sources: Vec<String>,
    },
    /// The letters are no family.
    #[error("`{letters}` is not a family; {number} was made in {made}")]
    NoFamily {
        /// The letters between prefix and number, or after the number.
        letters: String,
        /// The number.
        number: String,
        /// The families it was made in, as parts are marked.
        made: String,
    },
    /// The part was not made in the family that was said or assumed.
    #[error("{text} was not made in {family}; made in {made}: say {instead}")]
    NotMade {
        /// What was typed.
        text: String,
        /// The family in words.
        family: String,
        /// The families it was made in.
        made: String,
        /// A number with a family it was made in.
        instead: String,
    },
    /// A speed mark on a part that has no speed grades.
    #[error("{number} has no speed grades: leave out `-{speed}`")]
    NoGrades {
        /// The number.
        number: String,
        /// The mark.
        speed: String,
    },
    /// A speed mark that the part does not have.
    #[error("{number} has no grade `-{speed}`; its grades are {grades}")]
    NoGrade {
        /// The number.
        number: String,
        /// The mark.
        speed: String,
        /// The marks that it has.
        grades: String,
    },
}

fn list(near: &[String]) -> String {
    if near.is_empty() { String::new() } else { format!("; near it: {}", near.join(" ")) }
}

fn say(choices: &[Choice]) -> String {
    let one = |choice: &Choice| {
        format!("say {} for the {} in {} pins", choice.name, choice.what, choice.pins)
    };
    choices.iter().map(one).collect::<Vec<_>>().join(", or ")
}

fn told(sources: &[String]) -> String {
    match sources {
        [] => "from memory".to_owned(),
        _ => format!("by {}", sources.join(" and ")),
    }
}

/// A number split into what it is made of.
struct Split {
    number: String,
    prefix: Option<String>,
    /// Family letters, where there are some.
    letters: String,
}

/// Temperature prefixes that stand for 74.
const PREFIXES: [&str; 4] = ["54", "64", "74", "84"];

impl PartName {
    /// Understands a part number, upper or lower case.
    ///
    /// # Errors
    ///
    /// When it names no part of the library, or a family or speed that the part was not made in.
    pub fn parse(text: &str, library: &Library) -> Result<Self, PartNameError> {
        // The micro sign and the Greek letter of NEC's prefix are written U in the library.
        let typed = text.trim().replace(['\u{b5}', '\u{3bc}'], "U").to_ascii_uppercase();
        let (body, speed) = match typed.split_once('-') {
            Some((body, speed)) => (body, Some(speed)),
            None => (typed.as_str(), None),
        };
        let word = |word: &str| {
            !word.is_empty() && word.len() <= 16 && word.bytes().all(|c| c.is_ascii_alphanumeric())
        };
        if !word(body) || !speed.is_none_or(word) {
            return Err(PartNameError::Malformed(text.trim().chars().take(40).collect()));
        }
        let shared = library.shared(body);
        if !shared.is_empty() {
            let (number, choices) = (body.to_owned(), shared.to_vec());
            return Err(PartNameError::Ambiguous { number, choices });
        }
        let split = split(body, library);
        if library.part(&split.number).is_none()
            && let Some(alias) = library.aliases().get(body)
        {
            return Self::of_alias(alias, body, speed, library);
        }
        let Some(part) = library.part(&split.number) else {
            return Err(PartNameError::Unknown {
                near: library.nearest(&split.number).into_iter().map(str::to_owned).collect(),
                number: split.number,
            });
        };
        let (family, assumed) = family(body, &split, part, library)?;
        if let Some(speed) = speed {
            check_speed(speed, part)?;
        }
        Ok(Self {
            number: split.number,
            family,
            prefix: split.prefix,
            speed: speed.map(str::to_owned),
            assumed,
        })
    }
}

impl PartName {
    /// What a maker's marking means, where two sources say so.
    fn of_alias(
        alias: &Alias,
        body: &str,
        speed: Option<&str>,
        library: &Library,
    ) -> Result<Self, PartNameError> {
        let Some(part) = library.part(&alias.part) else {
            return Err(PartNameError::Unknown { number: alias.part.clone(), near: Vec::new() });
        };
        // One that this socket never powers needs no second witness to be refused.
        if !alias.trusted() && part.foreign_supplies().next().is_none() {
            return Err(PartNameError::Untrusted {
                marking: body.to_owned(),
                part: alias.part.clone(),
                sources: alias.sources.clone(),
            });
        }
        let whole = Split { number: alias.part.clone(), prefix: None, letters: String::new() };
        let (family, _) = family(&alias.part, &whole, part, library)?;
        // Package letters may follow the speed: TMS4164-15NL.
        let bare = speed.map(|speed| speed.trim_end_matches(|c: char| c.is_ascii_alphabetic()));
        let speed = match (speed, bare) {
            (Some(speed), _) if check_speed(speed, part).is_ok() => Some(speed),
            (Some(_), Some(bare)) if !bare.is_empty() => {
                check_speed(bare, part)?;
                Some(bare)
            }
            (Some(speed), _) => {
                check_speed(speed, part)?;
                Some(speed)
            }
            (None, _) => None,
        };
        Ok(Self {
            number: alias.part.clone(),
            family,
            prefix: None,
            speed: speed.map(str::to_owned),
            assumed: Some(match &alias.sources[..] {
                [] => format!("{body} is taken for a {}, from memory", alias.part),
                sources => format!("{body} is a {} ({})", alias.part, sources.join("; ")),
            }),
        })
    }
}

/// The mark of a part in a family: `74LS00` for 7400, `74HC4040` for 744040 or for 4040 in HC,
/// `4017B` for 4017.
pub fn marking(number: &str, family: Family) -> String {
    marking_with(number, "74", family)
}

fn marking_with(number: &str, prefix: &str, family: Family) -> String {
    match (family, number.strip_prefix("74")) {
        (Family::Standard, Some(digits)) => format!("{prefix}{digits}"),
        (Family::B, None) => format!("{number}B"),
        (Family::Ub, None) => format!("{number}UB"),
        (Family::Nmos, _) | (Family::Standard, None) => number.to_owned(),
        (family, Some(digits)) if number.bytes().all(|c| c.is_ascii_digit()) => {
            format!("{prefix}{}{digits}", family.word())
        }
        (family, None) if number.bytes().all(|c| c.is_ascii_digit()) => {
            format!("{prefix}{}{number}", family.word())
        }
        _ => number.to_owned(),
    }
}

fn split(body: &str, library: &Library) -> Split {
    let whole = || Split { number: body.to_owned(), prefix: None, letters: String::new() };
    if library.part(body).is_some() {
        return whole();
    }
    if let Some(prefix) = PREFIXES.into_iter().find(|prefix| body.starts_with(prefix)) {
        let rest = &body[prefix.len()..];
        let digits = rest.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        if digits.len() >= 2 && digits.bytes().all(|c| c.is_ascii_digit()) {
            // A 4000-series function made in another family: 74HC4017 is 4017 in HC.
            let seventy_four = format!("74{digits}");
            let letters = rest[..rest.len() - digits.len()].to_owned();
            let four_thousand = !letters.is_empty()
                && library.part(&seventy_four).is_none()
                && library.part(digits).is_some();
            return Split {
                number: if four_thousand { digits.to_owned() } else { seventy_four },
                prefix: (prefix != "74").then(|| prefix.to_owned()),
                letters,
            };
        }
    }
    let digits = body.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let series = digits.starts_with('4') && (4..=5).contains(&digits.len());
    if series && digits.bytes().all(|c| c.is_ascii_digit()) {
        return Split {
            number: digits.to_owned(),
            prefix: None,
            letters: body[digits.len()..].to_owned(),
        };
    }
    whole()
}

/// The family that was said or is assumed, and the sentence about the assumption.
fn family(
    body: &str,
    split: &Split,
    part: &Part,
    library: &Library,
) -> Result<(Family, Option<String>), PartNameError> {
    let prefix = split.prefix.as_deref().unwrap_or("74");
    let mark = |family| marking_with(&split.number, prefix, family);
    let made = || part.made.iter().map(|family| mark(*family)).collect::<Vec<_>>().join(" ");
    let logic = split.number.starts_with("74") && part.number.bytes().all(|c| c.is_ascii_digit());
    let series = part.made.iter().any(|family| matches!(family, Family::B | Family::Ub));
    if !split.letters.is_empty() {
        // 74HC4017 has a prefix before its letters, 4049UB has none.
        let prefixed = logic || !body.starts_with(&split.number);
        let word = if prefixed { split.letters.clone() } else { format!("4000{}", split.letters) };
        let Some(family) = Family::from_word(&word) else {
            return Err(PartNameError::NoFamily {
                letters: split.letters.clone(),
                number: split.number.clone(),
                made: made(),
            });
        };
        return if part.made.contains(&family) {
            Ok((family, None))
        } else {
            Err(not_made(body, family, part, &mark))
        };
    }
    let others = |family| part.made.iter().copied().filter(move |other| *other != family);
    if logic {
        if !part.made.contains(&Family::Standard) {
            return Err(not_made(body, Family::Standard, part, &mark));
        }
        let other = others(Family::Standard).find(|family| *family == Family::Ls);
        let assumed = other.or_else(|| others(Family::Standard).next()).map(|other| {
            format!("{body} is taken as standard TTL; say {} for another family", mark(other))
        });
        return Ok((Family::Standard, assumed));
    }
    if series {
        let family = if part.made.contains(&Family::B) { Family::B } else { Family::Ub };
        let mut assumed = format!("{body} is taken as {}, the 4000 series", mark(family));
        let fast = format!("74{}", split.number);
        let instead = if others(family).any(|other| other == Family::Ub) {
            Some(mark(Family::Ub))
        } else {
            let fast = library.part(&fast);
            fast.and_then(|fast| Some(marking(&fast.number, *fast.made.first()?)))
                .or_else(|| others(family).next().map(mark))
        };
        if let Some(instead) = instead {
            assumed += &format!("; say {instead} for another family");
        }
        return Ok((family, Some(assumed)));
    }
    let Some(&family) = part.made.first() else {
        return Err(not_made(body, Family::Nmos, part, &mark));
    };
    let assumed = (part.made.len() > 1).then(|| {
        format!("{body} is taken as {}, the first of the families it was made in", words(family))
    });
    Ok((family, assumed))
}

fn not_made(
    text: &str,
    family: Family,
    part: &Part,
    mark: &impl Fn(Family) -> String,
) -> PartNameError {
    let made: Vec<&str> = part.made.iter().map(|family| family.word()).collect();
    let instead = [Family::Ls, Family::Hc]
        .into_iter()
        .find(|family| part.made.contains(family))
        .or(part.made.first().copied());
    PartNameError::NotMade {
        text: text.to_owned(),
        family: words(family),
        made: made.join(" "),
        instead: instead.map_or_else(|| part.number.clone(), mark),
    }
}

fn words(family: Family) -> String {
    match family {
        Family::Standard => "standard TTL".to_owned(),
        other => other.word().to_owned(),
    }
}

fn check_speed(speed: &str, part: &Part) -> Result<(), PartNameError> {
    let (number, speed) = (part.number.clone(), speed.to_owned());
    let Some(memory) = part.memory.as_ref().filter(|memory| !memory.grades.is_empty()) else {
        return Err(PartNameError::NoGrades { number, speed });
    };
    if memory.knows_mark(&speed) {
        return Ok(());
    }
    let marks = memory.marks();
    let grades = marks.iter().map(|mark| format!("-{mark}")).collect::<Vec<_>>().join(" ");
    Err(PartNameError::NoGrade { number, speed, grades })
}
