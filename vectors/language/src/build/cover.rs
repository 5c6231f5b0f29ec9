//! Which inputs the rows of a table cover.

/// A row's demands; `None` is either level.
pub(crate) type Cube = Vec<Option<bool>>;

/// Steps that a search may take before it gives up.
pub(crate) const PATIENCE: usize = 500_000;

/// The search was given up.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct TooLarge;

/// Levels that no row covers, if there are some; `patience` is used up by the search.
pub(crate) fn uncovered(
    rows: &[Cube],
    columns: usize,
    patience: &mut usize,
) -> Result<Option<Vec<bool>>, TooLarge> {
    let rows: Vec<&Cube> = rows.iter().collect();
    let mut levels = vec![false; columns];
    Ok(search(&rows, &mut levels, &mut vec![false; columns], patience)?.then_some(levels))
}

/// Leaves uncovered levels in `levels` if there are some.
fn search(
    rows: &[&Cube],
    levels: &mut [bool],
    fixed: &mut [bool],
    patience: &mut usize,
) -> Result<bool, TooLarge> {
    *patience = patience.checked_sub(1 + rows.len()).ok_or(TooLarge)?;
    let Some(first) = rows.first() else { return Ok(true) };
    let free = (0..levels.len()).find(|&column| !fixed[column] && first[column].is_some());
    let Some(column) = free else { return Ok(false) };
    fixed[column] = true;
    for level in [false, true] {
        levels[column] = level;
        let rest: Vec<&Cube> = rows
            .iter()
            .copied()
            .filter(|row| row[column].is_none_or(|demanded| demanded == level))
            .collect();
        if search(&rest, levels, fixed, patience)? {
            return Ok(true);
        }
    }
    fixed[column] = false;
    levels[column] = false;
    Ok(false)
}

/// Whether earlier rows cover a row entirely.
pub(crate) fn covered(
    row: &Cube,
    earlier: &[Cube],
    patience: &mut usize,
) -> Result<bool, TooLarge> {
    let within: Vec<Cube> = earlier
        .iter()
        .filter(|other| overlap(row, other))
        .map(|other| {
            // Inside the row its own demands are met.
            other.iter().zip(row).map(|(&o, r)| if r.is_some() { None } else { o }).collect()
        })
        .collect();
    Ok(uncovered(&within, row.len(), patience)?.is_none())
}

/// Whether some levels meet both.
pub(crate) fn overlap(a: &Cube, b: &Cube) -> bool {
    a.iter().zip(b).all(|(a, b)| a.is_none() || b.is_none() || a == b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cube(text: &str) -> Cube {
        text.chars()
            .map(|c| match c {
                'H' => Some(true),
                'L' => Some(false),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn gaps_are_found() {
        let rows = [cube("HX"), cube("LL")];
        assert_eq!(uncovered(&rows, 2, &mut { PATIENCE }), Ok(Some(vec![false, true])));
        let rows = [cube("HX"), cube("LL"), cube("XH")];
        assert_eq!(uncovered(&rows, 2, &mut { PATIENCE }), Ok(None));
    }

    #[test]
    fn a_covered_row_is_found() {
        let earlier = [cube("HX"), cube("LX")];
        assert_eq!(covered(&cube("XL"), &earlier, &mut { PATIENCE }), Ok(true));
        assert_eq!(covered(&cube("XL"), &earlier[..1], &mut { PATIENCE }), Ok(false));
    }

    #[test]
    fn the_search_gives_up() {
        let rows: Vec<Cube> = (0..40)
            .map(|i| (0..40).map(|j| (j == i || j == (i * 7 + 3) % 40).then_some(true)).collect())
            .collect();
        assert_eq!(uncovered(&rows, 40, &mut 10), Err(TooLarge));
    }
}
