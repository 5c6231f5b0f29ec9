//! Labels on sheets of A4.

use crate::geometry::{PAPER_MM, Sheet};
use crate::label::{Label, LabelError};
use crate::matrix::{QUIET, Symbol};
use crate::page::document;
use crate::typeset::{Face, fit};
use maud::{Markup, PreEscaped, html};

/// Units of the pictures: a tenth of a millimetre.
const UNITS_PER_MM: f64 = 10.0;

/// The smallest module: a phone's camera still tells them apart (common practice: a third of a
/// millimetre, which is four dots of a 300 dpi printer).
const MODULE_MM: f64 = 0.33;
/// Larger ones help nobody.
const LARGEST_MODULE_MM: f64 = 0.8;

/// Below this height a label is a low one.
const LOW_MM: f64 = 25.0;
/// Smaller type than this is hard to read (common practice: four points); the name of the lot,
/// which the symbol says, gives way to it.
const READABLE_MM: f64 = 1.45;

const STYLE: &str = "text{font-family:'DejaVu Sans',Arial,sans-serif;fill:#111;\
text-rendering:geometricPrecision}text.bold{font-weight:bold}\
.cut{fill:none;stroke:#999;stroke-width:1.5;stroke-dasharray:12 10}.symbol{fill:#000}";

/// The sheets as one HTML file that is ready to print: one page each, without a margin of the
/// browser's. `skip` labels at the beginning are left free: a sheet that has been begun can be
/// used up. `outlines` draws where to cut plain paper.
///
/// # Errors
///
/// A label whose symbol does not fit.
pub fn label_pages(
    labels: &[Label],
    sheet: &Sheet,
    skip: usize,
    outlines: bool,
) -> Result<String, LabelError> {
    let pages = pages(labels, sheet, skip, outlines)?;
    let style = format!(
        "@page{{size:A4;margin:0}}body{{margin:0;background:#fff}}\
         svg{{display:block;break-after:page;break-inside:avoid}}svg:last-child{{break-after:auto}}{STYLE}"
    );
    Ok(document("labels", &style, html! { @for page in &pages { (page) } }))
}

/// The sheets as SVG files, one each.
///
/// # Errors
///
/// A label whose symbol does not fit.
pub fn label_svgs(
    labels: &[Label],
    sheet: &Sheet,
    skip: usize,
    outlines: bool,
) -> Result<Vec<String>, LabelError> {
    let pages = pages(labels, sheet, skip, outlines)?;
    Ok(pages.into_iter().map(|page| format!("{}\n", page.into_string())).collect())
}

fn pages(
    labels: &[Label],
    sheet: &Sheet,
    skip: usize,
    outlines: bool,
) -> Result<Vec<Markup>, LabelError> {
    let mut places = Vec::new();
    for (index, label) in labels.iter().enumerate() {
        let at = skip + index;
        places.push((at / sheet.labels(), at % sheet.labels(), draw(label, sheet)?));
    }
    let first = places.first().map_or(0, |place| place.0);
    Ok(places.chunk_by(|a, b| a.0 == b.0).map(|page| {
        let number = page[0].0 - first + 1;
        html! {
            svg xmlns="http://www.w3.org/2000/svg" width=(format!("{}mm", PAPER_MM.0))
                height=(format!("{}mm", PAPER_MM.1))
                viewBox=(format!("0 0 {} {}", units(PAPER_MM.0), units(PAPER_MM.1))) {
                title { "labels, sheet " (number) }
                style { (PreEscaped(STYLE)) }
                @for (_, place, label) in page {
                    @let (x, y) = sheet.place_mm(*place);
                    g transform=(format!("translate({} {})", units(x), units(y))) {
                        @if outlines {
                            rect class="cut" width=(units(sheet.width_mm)) height=(units(sheet.height_mm)) {}
                        }
                        (label)
                    }
                }
            }
        }
    }).collect())
}

/// Whole units.
fn units(mm: f64) -> i64 {
    (mm * UNITS_PER_MM).round() as i64
}

/// One label, its left top corner at the origin.
fn draw(label: &Label, sheet: &Sheet) -> Result<Markup, LabelError> {
    let (width, height) = (sheet.width_mm, sheet.height_mm);
    let edge = (height * 0.07).clamp(1.2, 3.0);
    let symbol = label.symbol()?;
    let modules = symbol.side + 2 * QUIET;
    let inner = width - 2.0 * edge;

    // The function across the whole width, in the largest type that leaves room for the rest.
    let (title, name) = if label.function.is_empty() {
        (label.chip.name.as_str(), None)
    } else {
        (label.function.as_str(), Some(label.chip.name.as_str()))
    };
    // A low label needs its height for what stands below.
    let share = if height < LOW_MM { 0.31 } else { 0.36 };
    let head = fit(title, Face::Bold, inner, height * share, (height * 0.2).min(7.0), 2);
    let below = edge + head.height() + height * 0.02;

    let module = ((height - below - edge * 0.6) / modules as f64)
        .min(inner * 0.4 / modules as f64)
        .min(LARGEST_MODULE_MM);
    if module < MODULE_MM {
        return Err(LabelError::Small {
            name: label.chip.name.clone(),
            lot: label.lot.clone(),
            modules: symbol.side,
        });
    }
    let side = module * modules as f64;
    let left_over = inner - side - 0.5;

    let mut lines = label.lines();
    let room = height - below - edge;
    // The name counts as two lines.
    let heads = if name.is_some() { 1.7 } else { 0.0 } + if label.simulated { 1.0 } else { 0.0 };
    let size_of = |lines: usize| (room / ((lines as f64 + heads) * 1.22)).min(3.2);
    if size_of(lines.len()) < READABLE_MM {
        lines.pop();
    }
    let size = size_of(lines.len());
    let mut y = below;
    let mut body = Vec::new();
    if let Some(name) = name {
        let name_fit = fit(name, Face::Bold, left_over, size * 2.0, size * 1.6, 1);
        y += size * 1.7;
        body.push((y, name_fit.size, "bold", name_fit.lines[0].clone()));
        y += size * 0.4;
    }
    if label.simulated {
        y += size * 1.2;
        let words = "SIMULATED, no real chips";
        let line = fit(words, Face::Bold, left_over, size * 2.0, size, 1);
        body.push((y, line.size, "bold", line.lines[0].clone()));
    }
    for line in &lines {
        y += size * 1.2;
        // A long line is set smaller before its end is cut.
        let line = fit(line, Face::Plain, left_over, size * 2.0, size, 1);
        body.push((y, line.size, "", line.lines[0].clone()));
    }
    Ok(html! {
        @for (line, row) in head.lines.iter().zip(1..) {
            (text(edge, edge + head.size * (1.12 * f64::from(row) - 0.2), head.size, "bold", line))
        }
        @for (y, size, class, line) in &body {
            (text(edge, *y, *size, class, line))
        }
        (place(&symbol, width - edge - side, height - edge * 0.6 - side, module))
    })
}

fn text(x: f64, y: f64, size: f64, class: &str, words: &str) -> Markup {
    html! {
        text x=(units(x)) y=(units(y)) font-size=(units(size)) class=[Some(class).filter(|class| !class.is_empty())] {
            (words)
        }
    }
}

/// A symbol with its quiet zone, the zone's left top corner at a point.
fn place(symbol: &Symbol, x: f64, y: f64, module: f64) -> Markup {
    let at = |mm: f64| (mm + module * QUIET as f64) * UNITS_PER_MM;
    let scale = module * UNITS_PER_MM;
    html! {
        path class="symbol" d=(symbol.path())
            transform=(format!("translate({:.2} {:.2}) scale({scale:.4})", at(x), at(y))) {}
    }
}
