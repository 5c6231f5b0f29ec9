//! The frame of a page.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Units of the pictures: four to a millimetre, as on the fixture's drawing.
pub const UNITS_PER_MM: i32 = 4;

/// Nothing is fetched and nothing runs, whatever a marking or a note may say.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// A whole document.
pub fn document(title: &str, style: &str, body: Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width";
                title { (title) }
                style { (PreEscaped(style)) }
            }
            body { (body) }
        }
    };
    let mut text = page.into_string();
    text.push('\n');
    text
}

/// A picture of a size in units.
pub fn picture(width: i32, height: i32, title: &str, content: Markup) -> Markup {
    html! {
        svg role="img" width=(mm(width)) height=(mm(height)) viewBox=(format!("0 0 {width} {height}")) {
            title { (title) }
            (content)
        }
    }
}

fn mm(units: i32) -> String {
    format!("{}mm", f64::from(units) / f64::from(UNITS_PER_MM))
}

/// A line of text in a picture. `anchor` is `start`, `middle` or `end`.
pub fn text(x: i32, y: i32, class: &str, anchor: &str, words: &str) -> Markup {
    html! { text x=(x) y=(y) class=(class) text-anchor=(anchor) { (words) } }
}
