//! Lowers function tables.

use super::cover::{Cube, PATIENCE, covered, overlap, uncovered};
use super::gates::{ONE, ZERO};
use super::symbols::{Builder, Symbol};
use crate::diagnostic::Span;
use crate::syntax::tree::{Cell, Kind, Row, Table, Word};
use crate::{Edge, NodeId, Rule, StateId};

impl<'a> Builder<'a> {
    fn table(&self, statement: usize) -> Option<&'a Table> {
        match &self.statements[statement].1.kind {
            Kind::Table(table) => Some(table),
            _ => None,
        }
    }

    /// Whether an output column makes its output three-state.
    pub fn column_floats(&self, statement: usize, column: usize) -> bool {
        self.table(statement).is_some_and(|table| {
            table.rows.iter().any(|row| row.outputs[column] == Cell::HighImpedance)
        })
    }

    /// The level of a signal as a table shows it.
    fn table_level(&mut self, word: &'a Word) -> NodeId {
        match self.find(&word.text) {
            Some(Symbol::Activity(_)) | None => {
                self.no_such_column(word, "expected an input, a register or a wire");
                ZERO
            }
            Some(Symbol::Group(_)) => {
                self.sink.error(
                    word.span,
                    format!("`{}` is a group", word.text),
                    "expected a column for each bit",
                );
                ZERO
            }
            Some(symbol) => self.bit(symbol, word.span),
        }
    }

    /// When a row matches, edges left aside.
    fn row_matches(&mut self, table: &'a Table, row: &Row) -> NodeId {
        let mut all = ONE;
        for (word, cell) in table.inputs.iter().zip(&row.inputs) {
            let wanted = match cell {
                Cell::High => true,
                Cell::Low => false,
                _ => continue,
            };
            let level = self.table_level(word);
            let met = if wanted { level } else { self.gates.not(level) };
            all = self.gates.and(all, met);
        }
        all
    }

    /// What an output column drives.
    pub fn output_column(&mut self, statement: usize, column: usize) -> (NodeId, Option<NodeId>) {
        let Some(table) = self.table(statement) else { return (ZERO, None) };
        let floats = self.column_floats(statement, column);
        let mut value = None;
        let mut enable = None;
        for row in table.rows.iter().rev() {
            let span = row.spans[table.inputs.len() + column];
            let (level, on) = match &row.outputs[column] {
                Cell::HighImpedance => (None, ZERO),
                Cell::Same | Cell::Flip => {
                    self.no_register(&table.outputs[column], span);
                    (Some(ZERO), ONE)
                }
                cell => (Some(self.cell_level(cell)), ONE),
            };
            // The last row needs no look at its inputs: all rows together cover everything.
            let matches = self.row_matches(table, row);
            enable = Some(match enable {
                None => on,
                Some(below) => self.gates.mux(matches, on, below),
            });
            value = match (value, level) {
                (value, None) => value,
                (None, Some(level)) => Some(level),
                (Some(below), Some(level)) => Some(self.gates.mux(matches, level, below)),
            };
        }
        (value.unwrap_or(ZERO), enable.filter(|_| floats))
    }

    fn no_register(&mut self, word: &Word, span: Span) {
        self.sink.error_with(
            span,
            format!("`{}` is an output, which keeps nothing", word.text),
            "expected H, L, Z, ? or a name: `same` and `flip` are for registers",
            Some(format!("declare `state {}`", word.text.trim_start_matches('/'))),
        );
    }

    fn cell_level(&mut self, cell: &'a Cell) -> NodeId {
        match cell {
            Cell::High => ONE,
            Cell::Unknown => self.gates.unknown(),
            Cell::Level(inverted, word) => {
                let level = self.table_level(word);
                if *inverted { self.gates.not(level) } else { level }
            }
            _ => ZERO,
        }
    }

    /// The column with the edges, if there is one.
    fn edge_column(&mut self, table: &'a Table) -> Option<usize> {
        let mut found: Option<usize> = None;
        for row in &table.rows {
            for (column, cell) in row.inputs.iter().enumerate() {
                if matches!(cell, Cell::Edge(_)) && found != Some(column) {
                    if found.is_some() {
                        self.sink.error(
                            row.spans[column],
                            "the table has edges in two columns",
                            "expected edges in one column",
                        );
                        return found;
                    }
                    found = Some(column);
                }
            }
        }
        found
    }

    /// Says what is wrong with a table as a whole. Returns whether its rows are worth a look.
    pub fn check_table(&mut self, table: &'a Table, span: Span) -> bool {
        let errors = self.sink.errors();
        for word in &table.inputs {
            self.table_level(word);
        }
        let clock = self.edge_column(table);
        if self.sink.errors() > errors {
            return false;
        }
        let mut patience = PATIENCE;
        let cubes: Vec<Cube> = table.rows.iter().map(cube).collect();
        for (index, row) in table.rows.iter().enumerate() {
            let edge = |row: &Row| clock.map(|column| row.inputs[column].clone());
            let own = edge(row);
            let earlier: Vec<Cube> = (0..index)
                .filter(|&at| {
                    let other = edge(&table.rows[at]);
                    other == own || other == Some(Cell::Either)
                })
                .map(|at| cubes[at].clone())
                .collect();
            match covered(&cubes[index], &earlier, &mut patience) {
                Ok(true) => self.sink.warning(
                    row.span,
                    "the row never matches",
                    "rows above match whatever it does",
                    None,
                ),
                Ok(false) => {}
                Err(_) => break,
            }
        }
        let outputs: Vec<&Word> =
            table.outputs.iter().filter(|word| self.state_named(&word.text).is_none()).collect();
        if let (Some(column), Some(output)) = (clock, outputs.first()) {
            self.sink.error_with(
                output.span,
                format!("`{}` is not a register", output.text),
                format!("expected registers only, since `{}` has edges", table.inputs[column].text),
                Some(format!("declare `state {}`", output.text.trim_start_matches('/'))),
            );
            return true;
        }
        if outputs.is_empty() {
            return true;
        }
        match uncovered(&cubes, table.inputs.len(), &mut PATIENCE.max(patience)) {
            Ok(None) => {}
            Ok(Some(levels)) => {
                let gap: Vec<String> = table
                    .inputs
                    .iter()
                    .zip(levels)
                    .map(|(word, high)| format!("{}={}", word.text, if high { 'H' } else { 'L' }))
                    .collect();
                self.sink.error(
                    span,
                    format!("no row covers {}", gap.join(" ")),
                    "expected rows for all levels of the inputs",
                );
            }
            Err(_) => self.sink.error(
                span,
                "the table is too large to see whether its rows cover everything",
                "expected fewer inputs or rows that overlap less",
            ),
        }
        true
    }

    /// The rules that a table makes for a register.
    pub fn register_column(
        &mut self,
        table: &'a Table,
        column: usize,
        state: StateId,
    ) -> Vec<Rule> {
        let clock = self.edge_column(table);
        let edge_of = |row: &Row| match clock.map(|column| &row.inputs[column]) {
            Some(Cell::Edge(edge)) => Some(*edge),
            _ => None,
        };
        self.check_order(table, column, &edge_of);
        let mut rules = Vec::new();
        // Rows above that keep the content.
        let mut kept = ZERO;
        for row in table.rows.iter().filter(|row| edge_of(row).is_none()) {
            let matches = self.row_matches(table, row);
            match &row.outputs[column] {
                Cell::Same => kept = self.gates.or(kept, matches),
                cell => {
                    let span = row.spans[table.inputs.len() + column];
                    let value = self.register_level(cell, table, column, span, false, state);
                    let free = self.gates.not(kept);
                    let condition = self.gates.and(matches, free);
                    rules.push(Rule::While { condition, value });
                }
            }
        }
        for edge in [Edge::Rise, Edge::Fall] {
            if !table.rows.iter().any(|row| edge_of(row) == Some(edge)) {
                continue;
            }
            let content = self.gates.state(state);
            let mut value = content;
            for row in table.rows.iter().rev() {
                let level = match edge_of(row) {
                    Some(other) if other != edge => continue,
                    // The clock is neither high nor low at its edge.
                    None if clock.is_some_and(|at| row.inputs[at] != Cell::Either) => continue,
                    None => content,
                    Some(_) => {
                        let span = row.spans[table.inputs.len() + column];
                        let cell = &row.outputs[column];
                        self.register_level(cell, table, column, span, true, state)
                    }
                };
                let matches = self.row_matches(table, row);
                value = self.gates.mux(matches, level, value);
            }
            let clock = clock.map_or(ZERO, |at| self.table_level(&table.inputs[at]));
            rules.push(Rule::On { clock, edge, condition: None, value });
        }
        rules
    }

    fn register_level(
        &mut self,
        cell: &'a Cell,
        table: &Table,
        column: usize,
        span: Span,
        at_edge: bool,
        state: StateId,
    ) -> NodeId {
        match cell {
            Cell::Same => self.gates.state(state),
            Cell::Flip if at_edge => {
                let content = self.gates.state(state);
                self.gates.not(content)
            }
            Cell::Flip => {
                self.sink.error(
                    span,
                    "the register would flip without end",
                    "expected `flip` in a row with an edge",
                );
                ZERO
            }
            Cell::HighImpedance => {
                self.sink.error_with(
                    span,
                    format!("`{}` is a register, which does not float", table.outputs[column].text),
                    "expected H, L, ?, same, flip or a name",
                    Some("say when the output shows it: `Q = QFF while OC`".to_owned()),
                );
                ZERO
            }
            cell => self.cell_level(cell),
        }
    }

    /// Says where a row without an edge stands below one with an edge that it overlaps: levels
    /// win over edges, so that the order would mislead.
    fn check_order(
        &mut self,
        table: &Table,
        column: usize,
        edge_of: &impl Fn(&Row) -> Option<Edge>,
    ) {
        let cubes: Vec<Cube> = table.rows.iter().map(cube).collect();
        for (index, row) in table.rows.iter().enumerate() {
            if edge_of(row).is_some() || row.outputs[column] == Cell::Same {
                continue;
            }
            let misled = (0..index).any(|above| {
                edge_of(&table.rows[above]).is_some() && overlap(&cubes[above], &cubes[index])
            });
            if misled {
                self.sink.error(
                    row.span,
                    "a row without an edge stands below one with an edge",
                    "expected rows without an edge first: levels win over edges",
                );
            }
        }
    }
}

/// What a row demands of levels.
fn cube(row: &Row) -> Cube {
    row.inputs
        .iter()
        .map(|cell| match cell {
            Cell::High => Some(true),
            Cell::Low => Some(false),
            _ => None,
        })
        .collect()
}
