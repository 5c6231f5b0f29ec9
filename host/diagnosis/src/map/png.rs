//! The map as PNG, drawn pixel by pixel.

use super::scene::{LETTER, Rect, Scene};
use super::{Map, Reads};
use font8x8::legacy::BASIC_LEGACY;
use thiserror::Error;

/// A picture that could not be encoded.
#[derive(Debug, Error)]
#[error("the picture could not be encoded")]
pub struct NotDrawn(#[from] png::EncodingError);

/// Red, green and blue.
type Colour = [u8; 3];

const WHITE: Colour = [255, 255, 255];
const BLACK: Colour = [0, 0, 0];
const GREY: Colour = [68, 68, 68];

/// Fills that differ in print without colour: plain, hatched, black and dotted.
fn fill(reads: Reads, x: u32, y: u32) -> Colour {
    match reads {
        Reads::ZeroForOne => [91, 143, 208],
        Reads::OneForZero if (x + y) % 4 < 2 => [160, 64, 0],
        Reads::OneForZero => [255, 217, 160],
        Reads::Both => BLACK,
        Reads::AfterPause if x % 4 < 2 && y % 4 < 2 => [64, 32, 122],
        Reads::AfterPause => [232, 224, 248],
    }
}

struct Canvas {
    wide: u32,
    tall: u32,
    pixels: Vec<u8>,
}

impl Canvas {
    fn set(&mut self, x: u32, y: u32, colour: Colour) {
        if x < self.wide && y < self.tall {
            let at = ((y * self.wide + x) * 3) as usize;
            self.pixels[at..at + 3].copy_from_slice(&colour);
        }
    }

    fn area(&mut self, area: Rect, colour: impl Fn(u32, u32) -> Colour) {
        for y in area.y..area.y + area.tall {
            for x in area.x..area.x + area.wide {
                self.set(x, y, colour(x, y));
            }
        }
    }

    fn frame(&mut self, Rect { x, y, wide, tall }: Rect) {
        for (y, tall) in [(y, 1), (y + tall, 1)] {
            self.area(Rect { x, y, wide: wide + 1, tall }, |_, _| GREY);
        }
        for x in [x, x + wide] {
            self.area(Rect { x, y, wide: 1, tall }, |_, _| GREY);
        }
    }

    /// Letters of 8 x 8 pixels in the middle of their line.
    fn text(&mut self, x: u32, y: u32, text: &str) {
        for (at, letter) in text.chars().enumerate() {
            let known = BASIC_LEGACY.get(letter as usize);
            let glyph = known.unwrap_or(&BASIC_LEGACY['?' as usize]);
            for (down, line) in glyph.iter().enumerate() {
                for across in (0..8).filter(|across| line >> across & 1 == 1) {
                    let (x, y) = (x + at as u32 * LETTER + across, y + 3 + down as u32);
                    self.set(x, y, BLACK);
                }
            }
        }
    }
}

impl Map {
    /// The map as a PNG picture, with the same title, legend and labels as the SVG. Letters that
    /// are not ASCII appear as question marks.
    ///
    /// # Errors
    ///
    /// The picture cannot be encoded.
    pub fn png(&self) -> Result<Vec<u8>, NotDrawn> {
        let scene = Scene::of(self);
        let count = (scene.wide * scene.tall) as usize;
        let mut canvas = Canvas { wide: scene.wide, tall: scene.tall, pixels: WHITE.repeat(count) };
        for &(reads, area) in &scene.areas {
            canvas.area(area, |x, y| fill(reads, x, y));
        }
        scene.frames.iter().for_each(|&frame| canvas.frame(frame));
        for text in &scene.texts {
            canvas.text(text.x, text.y, &text.text);
        }
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, scene.wide, scene.tall);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header()?;
        writer.write_image_data(&canvas.pixels)?;
        writer.finish()?;
        Ok(bytes)
    }
}
