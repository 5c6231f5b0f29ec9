//! Which names the statements of a part mention, whether they were understood or not. What is
//! mentioned in a statement with an error is not reported as unused on top of it.

use super::symbols::Layered;
use crate::syntax::tree::{Assignment, Cell, Expr, Kind, Statement, Word};
use std::collections::HashSet;

/// The names that statements mention, declarations and pin lists left aside.
pub(crate) fn mentions(statements: &[Layered<'_>]) -> HashSet<String> {
    let mut names = Names(HashSet::new());
    for (_, statement) in statements {
        names.statement(statement);
    }
    names.0
}

struct Names(HashSet<String>);

impl Names {
    fn add(&mut self, name: &str) {
        self.0.insert(name.to_owned());
    }

    fn words(&mut self, words: &[Word]) {
        words.iter().for_each(|word| self.add(&word.text));
    }

    fn assignments(&mut self, assignments: &[Assignment]) {
        for assignment in assignments {
            assignment.targets.iter().chain(&assignment.values).for_each(|expr| self.expr(expr));
        }
    }

    fn statement(&mut self, statement: &Statement) {
        match &statement.kind {
            Kind::Group(_, bits) => self.words(bits),
            Kind::Wire(_, expr) | Kind::Avoid(expr) => self.expr(expr),
            Kind::When(condition, assignments) => {
                self.expr(condition);
                self.assignments(assignments);
            }
            Kind::On { clock, condition, assignments, .. } => {
                self.expr(clock);
                condition.iter().for_each(|condition| self.expr(condition));
                self.assignments(assignments);
            }
            Kind::Drive(assignment, condition) => {
                self.assignments(std::slice::from_ref(assignment));
                condition.iter().for_each(|condition| self.expr(condition));
            }
            Kind::Table(table) => {
                self.words(&table.inputs);
                self.words(&table.outputs);
                for cell in table.rows.iter().flat_map(|row| &row.outputs) {
                    if let Cell::Level(_, word) = cell {
                        self.add(&word.text);
                    }
                }
            }
            Kind::Steady(words, condition) => {
                self.words(words);
                self.expr(condition);
            }
            Kind::Memory(memory) => {
                let pins = [&memory.address, &memory.data_in, &memory.data_out, &memory.strobes];
                pins.into_iter().for_each(|words| self.words(words));
                let conditions = memory.read.iter().chain(&memory.write).chain(&memory.latch);
                conditions.for_each(|expr| self.expr(expr));
            }
            Kind::Broken(names) => names.iter().for_each(|name| self.add(name)),
            Kind::Listed(..)
            | Kind::Load(_)
            | Kind::Title(_)
            | Kind::Source(_)
            | Kind::Note(_)
            | Kind::Untested(_)
            | Kind::Made(_)
            | Kind::Package { .. }
            | Kind::Limit(_)
            | Kind::Grade(_)
            | Kind::MakerGrade(..)
            | Kind::Timing(_)
            | Kind::Startup(..)
            | Kind::Supply(_)
            | Kind::Refresh(..) => {}
        }
    }

    fn expr(&mut self, expr: &Expr) {
        match expr {
            Expr::Name(word) | Expr::Pick { name: word, .. } => self.add(&word.text),
            Expr::Number { .. } | Expr::Unknown(_) => {}
            Expr::Not(inner, _) | Expr::Reduce(_, inner, _) => self.expr(inner),
            Expr::Sum(terms) => terms.iter().for_each(|(_, term)| self.expr(term)),
            Expr::Compare(_, left, right) => {
                self.expr(left);
                self.expr(right);
            }
            Expr::Combine(_, parts) | Expr::Join(parts, _) => {
                parts.iter().for_each(|part| self.expr(part));
            }
            Expr::Choose(arms, otherwise) => {
                for (condition, value) in arms {
                    self.expr(condition);
                    self.expr(value);
                }
                self.expr(otherwise);
            }
        }
    }
}
