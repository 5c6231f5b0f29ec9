//! The map as SVG.

use super::scene::{Rect, Scene};
use super::{Map, Reads};
use std::fmt::Write;

/// Fills that differ in print without colour: plain, hatched, black and dotted.
const PATTERNS: &str = concat!(
    r##"<defs><pattern id="one" width="4" height="4" patternUnits="userSpaceOnUse">"##,
    r##"<rect width="4" height="4" fill="#ffd9a0"/>"##,
    r##"<path d="M-1 1l2-2M0 4l4-4M3 5l2-2" stroke="#a04000" stroke-width="2"/></pattern>"##,
    r##"<pattern id="pause" width="4" height="4" patternUnits="userSpaceOnUse">"##,
    r##"<rect width="4" height="4" fill="#e8e0f8"/>"##,
    r##"<rect width="2" height="2" fill="#40207a"/></pattern></defs>"##,
);

fn fill(reads: Reads) -> &'static str {
    match reads {
        Reads::ZeroForOne => "#5b8fd0",
        Reads::OneForZero => "url(#one)",
        Reads::Both => "#000",
        Reads::AfterPause => "url(#pause)",
    }
}

impl Map {
    /// The map as an SVG picture that needs nothing else: with title, legend and the address bits
    /// of both axes, readable in grey.
    pub fn svg(&self) -> String {
        let scene = Scene::of(self);
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}\" height=\"{1}\" \
             viewBox=\"0 0 {0} {1}\" font-family=\"monospace\" font-size=\"13\" role=\"img\">\n\
             <title>{2}</title>\n{PATTERNS}\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
            scene.wide,
            scene.tall,
            escaped(&scene.title)
        );
        for reads in Reads::ALL {
            let areas = scene.areas.iter().filter(|(of, _)| *of == reads);
            let path: String = areas.map(|(_, area)| outline(area)).collect();
            let _ = writeln!(svg, "<path d=\"{path}\" fill=\"{}\"/>", fill(reads));
        }
        let frames: String = scene.frames.iter().map(outline).collect();
        let _ = writeln!(svg, "<path d=\"{frames}\" fill=\"none\" stroke=\"#444\"/>");
        for text in &scene.texts {
            let (x, y) = (text.x, text.y + 12);
            // The width is that of the letters of the other pictures, whatever font is there.
            let wide = text.text.chars().count() as u32 * super::scene::LETTER;
            let _ = writeln!(
                svg,
                "<text x=\"{x}\" y=\"{y}\" textLength=\"{wide}\">{}</text>",
                escaped(&text.text)
            );
        }
        svg.push_str("</svg>\n");
        svg
    }
}

fn outline(area: &Rect) -> String {
    let Rect { x, y, wide, tall } = area;
    format!("M{x} {y}h{wide}v{tall}h-{wide}z")
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
