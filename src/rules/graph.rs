//! What the tables need from each other, and an order in which everything needed comes first.

use std::collections::HashMap;

use petgraph::algo::{tarjan_scc, toposort};
use petgraph::graph::{DiGraph, NodeIndex};

use crate::facts::{Comes, FactId, Gather, Vocabulary};
use crate::source::{Problem, Problems};

use super::load::PackFile;
use super::model::{Body, Table, Work};

/// An edge for every fact one piece of work makes and another reads.
pub fn graph(vocabulary: &Vocabulary, tables: &[Table]) -> DiGraph<Work, FactId> {
    let mut graph = DiGraph::new();
    let mut makers: HashMap<FactId, NodeIndex> = HashMap::new();
    let mut nodes = Vec::new();
    for (i, table) in tables.iter().enumerate() {
        let node = graph.add_node(Work::Table(i));
        nodes.push(node);
        for fact in made_by(table) {
            makers.insert(fact, node);
        }
    }
    let mut gathers = Vec::new();
    for (id, fact) in vocabulary.facts() {
        // Sums are worked out by the survey, so to the graph they come from outside.
        if let Comes::Gathered { from, by } = &fact.comes
            && *by != Gather::Sum
            && let Some(from) = vocabulary.find(from)
        {
            let node = graph.add_node(Work::Gather(id));
            makers.insert(id, node);
            gathers.push((node, from));
        }
    }
    for (node, from) in gathers {
        if let Some(&maker) = makers.get(&from) {
            graph.add_edge(maker, node, from);
        }
    }
    for (i, table) in tables.iter().enumerate() {
        for &fact in &table.inputs {
            if let Some(&maker) = makers.get(&fact) {
                graph.add_edge(maker, nodes[i], fact);
            }
        }
    }
    graph
}

/// Facts a table makes.
pub fn made_by(table: &Table) -> Vec<FactId> {
    match &table.body {
        Body::Grade { gives, .. } => vec![*gives],
        Body::Collect => Vec::new(),
        Body::Rank(rank) => rank
            .gives
            .into_iter()
            .chain(rank.contestants.iter().filter_map(|c| c.standing))
            .collect(),
    }
}

/// An order of work, or the loops that forbid one as problems.
pub fn order(
    files: &[PackFile],
    vocabulary: &Vocabulary,
    tables: &[Table],
    problems: &mut Problems,
) -> Vec<Work> {
    two_makers(files, vocabulary, tables, problems);
    let graph = graph(vocabulary, tables);
    match toposort(&graph, None) {
        Ok(order) => order.into_iter().map(|n| graph[n]).collect(),
        Err(_) => {
            for scc in tarjan_scc(&graph) {
                report_loop(files, vocabulary, tables, &graph, &scc, problems);
            }
            Vec::new()
        }
    }
}

fn name(vocabulary: &Vocabulary, tables: &[Table], work: Work) -> String {
    match work {
        Work::Table(i) => format!("table `{}`", tables[i].id),
        Work::Gather(id) => format!("gathered fact `{}`", vocabulary.fact(id).id),
    }
}

/// Walks one loop inside a strongly connected part and shows it table by table; a part of one piece of
/// work that does not need itself has none.
fn report_loop(
    files: &[PackFile],
    vocabulary: &Vocabulary,
    tables: &[Table],
    graph: &DiGraph<Work, FactId>,
    scc: &[NodeIndex],
    problems: &mut Problems,
) {
    let mut path: Vec<NodeIndex> = Vec::new();
    let mut at = scc[0];
    while !path.contains(&at) {
        path.push(at);
        match graph.neighbors(at).find(|n| scc.contains(n)) {
            Some(next) => at = next,
            None => return,
        }
    }
    let from = path.iter().position(|&n| n == at).unwrap_or(0);
    let cycle = &path[from..];
    let mut text = String::new();
    for (i, &node) in cycle.iter().enumerate() {
        let next = cycle[(i + 1) % cycle.len()];
        let fact = graph
            .find_edge(node, next)
            .map_or("", |e| vocabulary.fact(graph[e]).id.as_str());
        text += &match graph[node] {
            Work::Table(t) => format!("table `{}` -> fact `{fact}` -> ", tables[t].id),
            Work::Gather(_) => format!("gathered fact `{fact}` -> "),
        };
    }
    text += &name(vocabulary, tables, graph[cycle[0]]);
    let table = cycle.iter().find_map(|&n| match graph[n] {
        Work::Table(i) => Some(&tables[i]),
        Work::Gather(_) => None,
    });
    let mut problem = Problem::error("loop", format!("these need each other: {text}"))
        .hint("let one of them read a fact from the record instead");
    if let Some(table) = table {
        problem = problem.at(&files[table.file].file, table.place);
    }
    problems.push(problem);
}

fn two_makers(
    files: &[PackFile],
    vocabulary: &Vocabulary,
    tables: &[Table],
    problems: &mut Problems,
) {
    let mut makers: HashMap<FactId, &Table> = HashMap::new();
    for table in tables {
        for fact in made_by(table) {
            if let Some(first) = makers.insert(fact, table) {
                problems.push(
                    Problem::error(
                        "two-makers",
                        format!(
                            "`{}` is made by `{}` and by `{}`",
                            vocabulary.fact(fact).id,
                            first.id,
                            table.id
                        ),
                    )
                    .at(&files[table.file].file, table.place)
                    .hint("one fact has one maker; give this table another fact"),
                );
            }
        }
    }
}
