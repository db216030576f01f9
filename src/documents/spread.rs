//! Work spread over the threads of the machine.

/// What `work` makes of each item, in their order; on as many threads as the machine has, which changes nothing but the
/// time.
pub(super) fn spread<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let each = items.len().div_ceil(threads).max(1);
    let all = |part: &[T]| -> Vec<R> { part.iter().map(&work).collect() };
    std::thread::scope(|scope| {
        let parts: Vec<_> = items.chunks(each).map(|part| (part, scope.spawn(move || all(part)))).collect();
        // A thread that failed is worked out again here, so that its failure is told as one of the program.
        parts.into_iter().flat_map(|(part, thread)| thread.join().unwrap_or_else(|_| all(part))).collect()
    })
}
