//! A survey in a few lines, for the terminal.

use crate::command::output::Output;
use plumbline_programme::findings::Grade;
use plumbline_report::format;
use plumbline_report::words;
use std::path::Path;

/// Prints the verdicts, the number of findings, and the folder of the report.
pub(super) fn print(document: &format::Survey, grades: &[Grade], out: Option<&Path>, output: &mut Output) {
    for verdict in &document.verdicts {
        let head = [verdict.head.as_str(), verdict.figure.as_str()];
        let head = head.into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join(", ");
        output.say(&format!("{:<9} {:<8} {head}. {}", verdict.on, verdict.state, verdict.sentence));
    }
    output.say(&format!("{}; {}", counted(grades), number(document.joins.len(), "join", "joins")));
    if document.dropped > 0 {
        output.say(&format!("{} more were dropped: the log was full", document.dropped));
    }
    if let Some(out) = out {
        output.say(&format!("report in {}", out.join("report.html").display()));
    }
}

/// "3 findings (1 grave, 2 clear)".
fn counted(grades: &[Grade]) -> String {
    let of = |grade: Grade| {
        let count = grades.iter().filter(|one| **one == grade).count();
        (count > 0).then(|| format!("{count} {}", words::grade(grade).to_lowercase()))
    };
    let parts: Vec<String> = [Grade::Grave, Grade::Clear, Grade::Slight].into_iter().filter_map(of).collect();
    let all = number(grades.len(), "finding", "findings");
    if parts.is_empty() { all } else { format!("{all} ({})", parts.join(", ")) }
}

fn number(count: usize, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {many}"),
        1 => format!("1 {one}"),
        count => format!("{count} {many}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn findings_are_counted_the_worst_first() {
        assert_eq!(counted(&[]), "no findings");
        assert_eq!(counted(&[Grade::Slight]), "1 finding (1 slight)");
        let some = [Grade::Clear, Grade::Grave, Grade::Clear];
        assert_eq!(counted(&some), "3 findings (1 grave, 2 clear)");
    }
}
