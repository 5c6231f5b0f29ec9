//! Tables of text that come with the program: fields between bars, remarks after `#`.

/// The lines of a table whose every line has `N` fields.
pub(crate) fn rows<const N: usize>(text: &'static str) -> impl Iterator<Item = [&'static str; N]> {
    text.lines().filter_map(|line| {
        let line = line.split('#').next()?.trim();
        if line.is_empty() {
            return None;
        }
        let mut fields = line.split('|').map(str::trim);
        let row: [&str; N] = std::array::from_fn(|_| fields.next().unwrap_or_default());
        fields.next().is_none().then_some(row)
    })
}

#[cfg(test)]
mod tests {
    use super::rows;

    #[test]
    fn fields_and_remarks() {
        let table: Vec<[&str; 2]> = rows("# a\n\nx | y z # b\n p|\n").collect();
        assert_eq!(table, [["x", "y z"], ["p", ""]]);
    }
}
