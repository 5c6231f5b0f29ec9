//! Gathers the rules of each register.

use super::symbols::Builder;
use super::targets::{Bit, Target};
use crate::diagnostic::Span;
use crate::syntax::tree::{Assignment, Kind};
use crate::{NodeId, Register, Rule, StateId};

impl<'a> Builder<'a> {
    /// All registers with their rules.
    pub fn registers(&mut self) -> Vec<Register> {
        let mut registers: Vec<Register> = self
            .states
            .iter()
            .map(|entry| Register { name: entry.name.clone(), rules: Vec::new() })
            .collect();
        for (layer, statement) in self.layered() {
            match &statement.kind {
                Kind::When(condition, assignments) => {
                    let condition = self.condition(condition);
                    self.assign(layer, assignments, &mut registers, &|value| Rule::While {
                        condition,
                        value,
                    });
                }
                Kind::On { edge, clock, condition, assignments } => {
                    let clock = self.condition(clock);
                    let condition = condition.as_ref().map(|condition| self.condition(condition));
                    let edge = *edge;
                    self.assign(layer, assignments, &mut registers, &|value| Rule::On {
                        clock,
                        edge,
                        condition,
                        value,
                    });
                }
                Kind::Table(table) => {
                    if !self.check_table(table, statement.span) {
                        continue;
                    }
                    for (column, word) in table.outputs.iter().enumerate() {
                        let Some(state) = self.state_named(&word.text) else { continue };
                        if self.states[state.0 as usize].layer == layer {
                            let rules = self.register_column(table, column, state);
                            registers[state.0 as usize].rules.extend(rules);
                        }
                    }
                }
                _ => {}
            }
        }
        for (entry, register) in self.states.iter().zip(&registers) {
            let idle = self.idle(&entry.name);
            if register.rules.is_empty() && idle {
                let message = format!("register `{}` has no rule", entry.name);
                let expected = "expected a `when`, an `on` or a table that gives it a value";
                self.sink.error(entry.span, message, expected);
            }
        }
        registers
    }

    fn assign(
        &mut self,
        layer: u8,
        assignments: &'a [Assignment],
        registers: &mut [Register],
        rule: &dyn Fn(NodeId) -> Rule,
    ) {
        let mut assigned: Vec<StateId> = Vec::new();
        for assignment in assignments {
            let bits = self.assignment_bits(assignment, true);
            let mut last: Option<(*const crate::syntax::tree::Expr, Vec<NodeId>)> = None;
            for Bit { target, span, expr, width, bit } in bits {
                let Target::State(state) = target else { continue };
                // A wide value is lowered once for all its bits.
                let lowered = match &last {
                    Some((known, lowered)) if std::ptr::eq(*known, expr) => lowered.clone(),
                    _ => {
                        let lowered = self.bits(expr, width);
                        last = Some((expr, lowered.clone()));
                        lowered
                    }
                };
                if assigned.contains(&state) {
                    self.register_twice(state, span);
                    continue;
                }
                assigned.push(state);
                if self.states[state.0 as usize].layer == layer {
                    registers[state.0 as usize].rules.push(rule(lowered[bit]));
                }
            }
        }
    }

    fn register_twice(&mut self, state: StateId, span: Span) {
        let name = &self.states[state.0 as usize].name;
        let message = format!("register `{name}` is assigned twice at once");
        self.sink.error(span, message, "expected each register once in a statement");
    }
}
