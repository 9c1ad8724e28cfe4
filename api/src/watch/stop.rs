//! How the service ends when it is told to: what is under way is finished and answered, within a time; a second word
//! ends it at once.

use std::time::Duration;

use actix_web::dev::ServerHandle;
use actix_web::rt::signal::unix::{SignalKind, signal};
use futures_util::future::{Either, select};

use crate::state::Shared;

/// How long requests under way may last once the service was told to stop, s.
pub const REQUESTS_S: u64 = 20;
/// How long the whole may last, whatever hangs; shorter than a supervisor's patience (30 s in the unit).
const ALL: Duration = Duration::from_secs(27);
/// Exit code where something was left unfinished.
const UNFINISHED: i32 = 1;

/// Waits for SIGTERM or SIGINT and stops the service; a second one ends the process at once.
///
/// # Errors
/// The system does not hand over the signals.
pub fn on_signals(handle: ServerHandle, state: Shared) -> std::io::Result<()> {
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    actix_web::rt::spawn(async move {
        let mut told = async || {
            let (one, other) = (std::pin::pin!(terminate.recv()), std::pin::pin!(interrupt.recv()));
            match select(one, other).await {
                Either::Left(_) => "SIGTERM",
                Either::Right(_) => "SIGINT",
            }
        };
        let signal = told().await;
        let in_flight = state.watch.meters.in_flight();
        tracing::info!(signal, in_flight, "told to stop: what is under way is finished");
        state.watch.stop();
        let late = std::thread::Builder::new().name("preen-stopping".to_owned()).spawn(|| {
            // Nobody ever sends anything here: the time passes, or the process ends before.
            let (_never, time) = std::sync::mpsc::channel::<()>();
            let _passed = time.recv_timeout(ALL);
            tracing::error!("not everything could be finished in time");
            std::process::exit(UNFINISHED);
        });
        if let Err(error) = late {
            tracing::warn!(%error, "nothing bounds the time of the stop");
        }
        actix_web::rt::spawn(handle.stop(true));
        let signal = told().await;
        tracing::warn!(signal, "told a second time: ends at once");
        std::process::exit(UNFINISHED);
    });
    Ok(())
}
