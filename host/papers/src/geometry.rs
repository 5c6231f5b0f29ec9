//! Where labels lie on a sheet.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A sheet of A4 with labels in columns and rows. Lengths are in millimetres. Read from a file,
/// what is missing is as in the usual sheet; [`Sheet::check`] is the reader's to call.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Sheet {
    /// How many labels lie beside each other.
    pub columns: u32,
    /// How many lie below each other.
    pub rows: u32,
    /// From the paper's left edge to the first label.
    pub left_mm: f64,
    /// From the paper's top edge to the first label.
    pub top_mm: f64,
    /// From a label's left edge to the next one's.
    pub pitch_x_mm: f64,
    /// From a label's top edge to the next one's.
    pub pitch_y_mm: f64,
    /// A label's width.
    pub width_mm: f64,
    /// A label's height.
    pub height_mm: f64,
}

/// The paper (ISO 216).
pub const PAPER_MM: (f64, f64) = (210.0, 297.0);

/// The smallest label that can be read and that has room for a symbol.
const SMALLEST_MM: (f64, f64) = (30.0, 12.0);

/// Why labels cannot lie so.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum GeometryError {
    /// A sheet has labels.
    #[error("a sheet has at least one column and one row")]
    None,
    /// Labels lie on each other.
    #[error(
        "labels of {width_mm} x {height_mm} mm overlap at a pitch of {pitch_x_mm} x {pitch_y_mm} mm"
    )]
    #[expect(missing_docs, reason = "named after the fields of the sheet")]
    Overlap { width_mm: f64, height_mm: f64, pitch_x_mm: f64, pitch_y_mm: f64 },
    /// The last ones do not lie on the paper.
    #[error("the labels reach to {x_mm:.1} x {y_mm:.1} mm, the paper has {} x {} mm", PAPER_MM.0, PAPER_MM.1)]
    Paper {
        /// How far to the right.
        x_mm: f64,
        /// How far down.
        y_mm: f64,
    },
    /// They are too small.
    #[error("a label of {width_mm} x {height_mm} mm is too small: {} x {} mm at least", SMALLEST_MM.0, SMALLEST_MM.1)]
    Small {
        /// Its width.
        width_mm: f64,
        /// Its height.
        height_mm: f64,
    },
}

impl Default for Sheet {
    /// Three columns of seven labels of 63.5 by 38.1 mm, a size that is sold everywhere (common
    /// practice).
    fn default() -> Self {
        Self {
            columns: 3,
            rows: 7,
            left_mm: 7.2,
            top_mm: 15.1,
            pitch_x_mm: 66.0,
            pitch_y_mm: 38.1,
            width_mm: 63.5,
            height_mm: 38.1,
        }
    }
}

impl Sheet {
    /// How many labels a sheet has.
    pub const fn labels(&self) -> usize {
        self.columns as usize * self.rows as usize
    }

    /// Where the label of this index lies, row by row: its left and top edge.
    pub fn place_mm(&self, index: usize) -> (f64, f64) {
        let (column, row) = (index as u32 % self.columns, index as u32 / self.columns);
        (
            self.left_mm + f64::from(column) * self.pitch_x_mm,
            self.top_mm + f64::from(row) * self.pitch_y_mm,
        )
    }

    /// Whether labels can lie so on the paper.
    ///
    /// # Errors
    ///
    /// Says which condition does not hold.
    pub fn check(&self) -> Result<(), GeometryError> {
        // Written so that what is no number does not pass.
        const SLACK_MM: f64 = 0.05;
        let Self { width_mm, height_mm, pitch_x_mm, pitch_y_mm, .. } = *self;
        if self.columns == 0 || self.rows == 0 {
            return Err(GeometryError::None);
        }
        if !(width_mm >= SMALLEST_MM.0 && height_mm >= SMALLEST_MM.1) {
            return Err(GeometryError::Small { width_mm, height_mm });
        }
        let beside = self.columns == 1 || pitch_x_mm + SLACK_MM >= width_mm;
        let below = self.rows == 1 || pitch_y_mm + SLACK_MM >= height_mm;
        if !(beside && below) {
            return Err(GeometryError::Overlap { width_mm, height_mm, pitch_x_mm, pitch_y_mm });
        }
        let x_mm = self.left_mm + f64::from(self.columns - 1) * pitch_x_mm + width_mm;
        let y_mm = self.top_mm + f64::from(self.rows - 1) * pitch_y_mm + height_mm;
        let inside = self.left_mm >= 0.0
            && self.top_mm >= 0.0
            && x_mm <= PAPER_MM.0 + SLACK_MM
            && y_mm <= PAPER_MM.1 + SLACK_MM;
        if inside { Ok(()) } else { Err(GeometryError::Paper { x_mm, y_mm }) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_sheet_is_in_the_middle_of_the_paper() {
        let sheet = Sheet::default();
        sheet.check().unwrap();
        let (x, y) = sheet.place_mm(sheet.labels() - 1);
        let (right, bottom) = (210.0 - x - sheet.width_mm, 297.0 - y - sheet.height_mm);
        assert!((right - sheet.left_mm).abs() < 0.2, "{right}");
        assert!((bottom - sheet.top_mm).abs() < 0.3, "{bottom}");
        assert_eq!(sheet.place_mm(4), (7.2 + 66.0, 15.1 + 38.1));
    }

    #[test]
    fn what_cannot_lie_so_is_refused() {
        let usual = Sheet::default();
        let refused = |sheet: Sheet| sheet.check().unwrap_err();
        assert_eq!(refused(Sheet { columns: 0, ..usual }), GeometryError::None);
        assert!(matches!(refused(Sheet { rows: 8, ..usual }), GeometryError::Paper { .. }));
        assert!(matches!(refused(Sheet { left_mm: -1.0, ..usual }), GeometryError::Paper { .. }));
        assert!(matches!(
            refused(Sheet { left_mm: f64::NAN, ..usual }),
            GeometryError::Paper { .. }
        ));
        let tight = Sheet { pitch_x_mm: 60.0, ..usual };
        assert!(matches!(refused(tight), GeometryError::Overlap { .. }));
        let small = Sheet { height_mm: 8.0, ..usual };
        assert!(matches!(refused(small), GeometryError::Small { .. }));
        // The pitch of a single column is of no matter.
        Sheet { columns: 1, pitch_x_mm: 0.0, ..usual }.check().unwrap();
    }
}
