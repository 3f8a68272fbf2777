//! One board's work beside another's.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::boards::Board;
use crate::report::Report;

/// Does the same for every board, as many at a time as there are processors, and gives the results in the boards'
/// order; the lines of different boards, each with its board's name, come as they are done. Linking an image is the
/// work of one thread.
pub fn for_each<T: Send>(
    report: &mut Report,
    boards: &[&'static Board],
    work: impl Fn(&mut Report, &'static Board) -> T + Sync,
) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while let Some((index, board)) =
                    boards.iter().enumerate().nth(next.fetch_add(1, Ordering::Relaxed))
                {
                    let mut own = Report::default();
                    let result = work(&mut own, board);
                    done.lock()
                        .expect("no board's work panics while it holds this")
                        .push((index, own, result));
                }
            });
        }
    });
    let mut done = done.into_inner().expect("no board's work panics while it holds this");
    done.sort_by_key(|(index, ..)| *index);
    done.into_iter()
        .map(|(_, own, result)| {
            report.take_in(&own);
            result
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::boards::BOARDS;

    #[test]
    fn results_come_in_the_boards_order_and_every_count_is_taken_in() {
        let boards: Vec<&'static Board> = BOARDS.iter().collect();
        let mut report = Report::default();
        let names = for_each(&mut report, &boards, |report, board| {
            // The first is done last.
            if board.name == boards[0].name {
                std::thread::sleep(std::time::Duration::from_millis(50));
                report.fail("one on purpose");
            }
            board.name
        });
        assert_eq!(names, boards.iter().map(|board| board.name).collect::<Vec<_>>());
        assert!(!report.complete());
    }
}
