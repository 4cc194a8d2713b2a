use super::*;
use plumbline_measure::bands::Span;

fn finding(id: u64, kind: Kind, (start, end): (i64, i64), [low_hz, high_hz]: [f64; 2]) -> Finding {
    let store = Store { next: id, ..Store::new(Rules::default(), -1.0) };
    Finding { span: Some(Span { low_hz, high_hz }), ..store.blank(kind, start, end) }
}

#[test]
fn a_mono_loss_names_the_fault_that_it_follows_from() {
    let loss = finding(1, Kind::MonoLoss, (100, 200), [500.0, 2_000.0]);
    let fault = |of: fn(&mut Finding)| {
        let mut fault = Finding {
            cause: Some(Cause::Inverted),
            ..finding(2, Kind::OutOfStep, (90, 160), [200.0, 4_000.0])
        };
        of(&mut fault);
        fault
    };
    let follows = |fault: Finding| {
        let mut all = [loss.clone(), fault];
        name_causes(&mut all);
        assert_eq!(all[1].follows, None);
        all[0].follows
    };
    assert_eq!(follows(fault(|_| {})), Some(2));
    assert_eq!(follows(fault(|f| f.cause = Some(Cause::Delayed { secs: 5e-3 }))), Some(2));
    // Not the cause: without a repair, at another time, for a small part of it, in another band or on another clock.
    assert_eq!(follows(fault(|f| f.cause = Some(Cause::Unexplained))), None);
    assert_eq!(follows(fault(|f| f.cause = Some(Cause::Spaced { secs: 1e-3 }))), None);
    assert_eq!(follows(fault(|f| (f.start, f.end) = (0, 100))), None);
    assert_eq!(follows(fault(|f| f.end = 149)), None);
    assert_eq!(follows(fault(|f| f.span = Some(Span { low_hz: 2_000.0, high_hz: 4_000.0 }))), None);
    assert_eq!(follows(fault(|f| f.grid = Grid::Song)), None);
}
