//! Starting and stopping the service, in this process: used by the binary, the demonstration and the tests.

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::middleware::{Compress, Next, from_fn};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer, ResponseError, get, web};
use preen_domain::time::Instant;
use tokio::sync::oneshot;
use utoipa_actix_web::service_config::ServiceConfig;
use utoipa_swagger_ui::SwaggerUi;

use crate::access::guards::Reach;
use crate::access::passwords::Hasher;
use crate::access::tokens::TokenMemory;
use crate::access::{sessions, throttle};
use crate::answers;
use crate::audit;
use crate::db::conn::{Db, OpenError, Place, open};
use crate::db::door::{Door, DoorError};
use crate::db::replica::{BEHIND_MS, Leave, Replica, ReplicaPlace, within};
use crate::db::upgrade::upgrade;
use crate::edge::headers::with_headers;
use crate::edge::lines::Lines;
use crate::edge::patience::with_patience;
use crate::exchange::calendar;
use crate::openapi;
use crate::photos::Photos;
use crate::photos::darkroom::Darkroom;
use crate::photos::place::{PhotoPlace, PlaceError};
use crate::photos::store::Store;
use crate::problem::Problem;
use crate::resources::{archive, feed, members, nouns, passwords, photos, questions, session, setup, tokens};
use crate::routes::{Paths, Routes};
use crate::sheets;
use crate::state::{Clock, Shared, State};
use crate::steady::SteadyClock;
use crate::tls::{self, Shield, TlsError};
use crate::watch::answered::answered;
use crate::watch::waiting::Waiting;
use crate::watch::{Upkeep, Watch, health, numbers, stop};
use crate::web as pages;

/// How long a line that is being closed is still read from, so that the sender gets to hear the answer.
const LEAVE: Duration = Duration::from_secs(5);
/// Lines that agree on their encryption at once, for each worker; each has three seconds.
const HANDSHAKES: usize = 2048;

/// How the service is to run.
#[derive(Clone, Debug)]
pub struct Config {
    /// Where the records are.
    pub place: Place,
    /// A read replica of that, if there is one.
    pub replica: Option<ReplicaPlace>,
    /// Where it listens; port 0 takes a free one.
    pub listen: SocketAddr,
    /// Its clock.
    pub clock: Clock,
    /// Where pictures of photos are kept; absent: beside the file of the embedded database.
    pub photos: Option<PhotoPlace>,
    /// Worker threads; absent: one for each core.
    pub workers: Option<usize>,
}

/// Why the service did not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The records cannot be used.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The address cannot be listened on.
    #[error("cannot listen on {0}: {1}")]
    Listen(SocketAddr, std::io::Error),
    /// The files for encryption cannot be used.
    #[error(transparent)]
    Tls(#[from] TlsError),
    /// Photos cannot be kept.
    #[error(transparent)]
    Photos(#[from] PlaceError),
    /// The threads cannot be started.
    #[error("cannot start: {0}")]
    Thread(std::io::Error),
}

/// A running service.
pub struct Running {
    /// Where it listens.
    pub address: SocketAddr,
    /// What its handlers see; for tools of the same process.
    pub state: Shared,
    scheme: &'static str,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<std::io::Result<()>>>,
}

impl Running {
    /// The address as a URL without a slash at the end.
    #[must_use]
    pub fn url(&self) -> String {
        format!("{}://{}", self.scheme, self.address)
    }

    /// Waits until the service ends by itself (a signal told it to).
    pub fn wait(mut self) -> std::io::Result<()> {
        let result = self.thread.take().map(JoinHandle::join);
        self.state.door.stop();
        match result {
            Some(Ok(result)) => result,
            Some(Err(_panic)) => Err(std::io::Error::other("the service ended by a panic")),
            None => Ok(()),
        }
    }

    /// Stops it: running requests are finished, no new ones taken.
    pub fn stop(mut self) {
        self.end();
    }

    fn end(&mut self) {
        if let Some(stop) = self.stop.take() {
            // Already gone is as good as stopped.
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
        {
            tracing::error!("the service had ended by a panic");
        }
        self.state.door.stop();
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.end();
    }
}

/// Opens the records (bringing their tables up to date) and starts to serve them without encryption.
pub fn start(config: &Config) -> Result<Running, StartError> {
    start_shielded(config, &Shield::default())
}

/// The same with encryption, by the service itself or by a proxy before it.
pub fn start_shielded(config: &Config, shield: &Shield) -> Result<Running, StartError> {
    start_kept(config, shield, Upkeep::default())
}

/// The same with what it keeps to.
pub fn start_kept(config: &Config, shield: &Shield, upkeep: Upkeep) -> Result<Running, StartError> {
    let tls = shield.tls.as_ref().map(tls::load).transpose()?;
    let reach = Reach {
        is_encrypted: tls.is_some() || shield.is_behind_proxy,
        is_behind_proxy: shield.is_behind_proxy,
    };
    let wrong = |error| StartError::Listen(config.listen, error);
    let listener = TcpListener::bind(config.listen).map_err(wrong)?;
    let address = listener.local_addr().map_err(wrong)?;
    let waiting = Waiting::begin(&listener, tls.clone()).map_err(StartError::Thread)?;
    let mut conn = open(&config.place)?;
    let applied = upgrade(&mut conn, nouns::TABLES)?;
    if !applied.is_empty() {
        tracing::info!(?applied, "migrations applied");
    }
    let newest = newest_on_record(&mut conn).map_err(|error| OpenError::Other(error.to_string()))?;
    drop(conn);
    let clock = SteadyClock::new(config.clock.clone(), newest);
    let replica = config.replica.as_ref().map(|place| Replica::follow(&config.place, place)).transpose()?;
    let door = Arc::new(Door::open(&config.place, replica, nouns::TABLES, clock, upkeep.changes_a_commit)?);
    door.hold_at_most(upkeep.fleet_bytes);
    let lines = Lines::new(upkeep.lines, reach.is_behind_proxy);
    let pictures = place_of_pictures(config)?;
    let started_s = door.clock().now().micros().div_euclid(1_000_000);
    let watch = Watch::new(upkeep, &config.place, &pictures, started_s);
    let is_alone = matches!(config.place, Place::File(_));
    let photos = Photos { store: store_of_pictures(&pictures)?, darkroom: Darkroom::default() };
    let (tokens, hasher) = (TokenMemory::new(is_alone), Hasher::default());
    let kept = Arc::default();
    let state: Shared = web::Data::new(State { door, tokens, hasher, photos, kept, reach, watch });

    drop(waiting);
    let (stop, stopped) = oneshot::channel();
    let (shared, workers) = (state.clone(), config.workers);
    let scheme = if tls.is_some() { "https" } else { "http" };
    let thread = std::thread::Builder::new()
        .name("preen-server".to_owned())
        .spawn(move || {
            actix_web::rt::System::new().block_on(serve(listener, tls, lines, shared, workers, stopped))
        })
        .map_err(StartError::Thread)?;
    Ok(Running { address, state, scheme, stop: Some(stop), thread: Some(thread) })
}

fn place_of_pictures(config: &Config) -> Result<PhotoPlace, PlaceError> {
    config.photos.clone().map_or_else(|| PhotoPlace::beside(&config.place), Ok)
}

/// The store of pictures, which has shown that it works.
fn store_of_pictures(place: &PhotoPlace) -> Result<Store, StartError> {
    // On a thread of its own, since the caller may have a runtime; and thrown away, since connections belong to theirs.
    let tried = Store::open(place)?;
    let proved = std::thread::scope(|scope| {
        let prove = || actix_web::rt::Runtime::new().map(|runtime| runtime.block_on(tried.prove()));
        scope.spawn(prove).join()
    });
    let ended = |_panic| StartError::Thread(std::io::Error::other("the store of pictures ended by a panic"));
    let proved = proved.map_err(ended)?.map_err(StartError::Thread)?;
    proved.map_err(|fault| PlaceError::Unusable(place.to_string(), fault.to_string()))?;
    Ok(Store::open(place)?)
}

/// The newest time that a record, a session or a count of attempts carries.
fn newest_on_record(conn: &mut Db) -> Result<Option<Instant>, DoorError> {
    Ok(sessions::newest(conn)?.max(throttle::newest(conn)?).max(audit::newest_of_all(conn)?))
}

async fn serve(
    listener: TcpListener,
    tls: Option<rustls::ServerConfig>,
    lines: Arc<Lines>,
    state: Shared,
    workers: Option<usize>,
    stopped: oneshot::Receiver<()>,
) -> std::io::Result<()> {
    let (sweeping, watched) = (state.clone(), state.clone());
    let (opened, limits) = (Arc::clone(&lines), lines.limits);
    let mut server = HttpServer::new(move || {
        App::new()
            .app_data(state.clone())
            .configure(served)
            .service(web::redirect("/docs", "/docs/"))
            .service(SwaggerUi::new("/docs/{_:.*}").config("/api/v1/openapi.json".into()))
            .route("/openapi.json", web::get().to(send_description))
            .configure(pages::routes)
            .default_service(web::to(no_such_route))
            .wrap(from_fn(with_leave))
            .wrap(Compress::default())
            .wrap(from_fn(answered))
            .wrap(from_fn(with_headers))
            .wrap(from_fn(with_patience))
    })
    .on_connect(move |socket, known| opened.opened(socket, known))
    .client_request_timeout(limits.head)
    .client_disconnect_timeout(LEAVE)
    .max_connection_rate(HANDSHAKES)
    .disable_signals()
    .shutdown_timeout(stop::REQUESTS_S);
    actix_web::rt::spawn(lines.keep_sweeping());
    actix_web::rt::spawn(photos::sweep::keep_sweeping(sweeping));
    server = match tls {
        Some(tls) => server.listen_rustls_0_23(listener, tls)?,
        None => server.listen(listener)?,
    };
    if let Some(workers) = workers {
        server = server.workers(workers);
    }
    let server = server.keep_alive(limits.idle).run();
    let handle = server.handle();
    if watched.watch.upkeep.takes_signals {
        stop::on_signals(server.handle(), watched)?;
    }
    actix_web::rt::spawn(async move {
        if stopped.await.is_ok() {
            handle.stop(true).await;
        }
    });
    server.await
}

/// Everything that is in the description of the interface, with its description.
pub fn documented(config: &mut ServiceConfig<'_>) {
    config.service(
        utoipa_actix_web::scope(UNDER).configure(|config| interface(&mut Routes::Described(config))),
    );
    beside_interface(&mut Routes::Described(config));
}

/// The same without.
fn served(config: &mut web::ServiceConfig) {
    config.service(web::scope(UNDER).configure(|config| {
        for paths in Paths::ALL {
            interface(&mut Routes::Served(config, paths));
        }
    }));
    beside_interface(&mut Routes::Served(config, Paths::Plain));
}

/// Where the interface lies.
const UNDER: &str = "/api/v1";

fn interface(routes: &mut Routes<'_, '_>) {
    // Boards are asked for most.
    routes
        .configure(answers::routes)
        .configure(nouns::routes)
        .configure(photos::files::routes)
        .configure(feed::http::routes)
        .configure(archive::http::routes)
        .configure(questions::settle::routes)
        .configure(members::erasure::routes)
        .configure(tokens::http::routes)
        .configure(setup::http::routes)
        .configure(session::http::routes)
        .configure(passwords::http::routes)
        .configure(sheets::routes)
        .configure(calendar::routes)
        .service(describe_interface);
}

/// Paths without names in them, all of them.
fn beside_interface(routes: &mut Routes<'_, '_>) {
    routes.service(health::live).service(health::ready).service(numbers::metrics);
}

/// This description.
#[utoipa::path(
    tag = "interface",
    security(()),
    responses((status = 200, description = "OpenAPI 3.1.", body = Object, content_type = "application/json"))
)]
#[get("/openapi.json")]
async fn describe_interface() -> HttpResponse {
    send_description().await
}

async fn send_description() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(openapi::describe_as_json())
}

/// 405 where the path is known with another method, 404 else.
async fn no_such_route(request: HttpRequest) -> HttpResponse {
    let asked: Vec<&str> = request.path().split('/').collect();
    let fitting = openapi::templates().iter().filter_map(|(method, template)| {
        let parts: Vec<&str> = template.split('/').collect();
        let fits = parts.len() == asked.len()
            && parts
                .iter()
                .zip(&asked)
                .all(|(part, asked)| if part.starts_with('{') { !asked.is_empty() } else { part == asked });
        let open = parts.iter().filter(|part| part.starts_with('{')).count();
        fits.then_some((open, method.as_str()))
    });
    let fitting: Vec<(usize, &str)> = fitting.collect();
    // A path of its own is not an item by that name.
    let closest = fitting.iter().map(|(open, _)| *open).min();
    let allowed: Vec<&str> =
        fitting.iter().filter(|(open, _)| Some(*open) == closest).map(|(_, method)| *method).collect();
    if allowed.is_empty() {
        let accepted = request.headers().get(actix_web::http::header::ACCEPT);
        let is_person = accepted
            .and_then(|value| value.to_str().ok())
            .is_some_and(|value| value.contains("text/html") && !request.path().starts_with("/api/"));
        return if is_person {
            pages::fault::PageFault::from(Problem::NoSuchPath).error_response()
        } else {
            Problem::NoSuchPath.error_response()
        };
    }
    let mut response = Problem::MethodNotAllowed.error_response();
    if let Ok(value) = HeaderValue::from_str(&allowed.join(", ")) {
        response.headers_mut().insert(actix_web::http::header::ALLOW, value);
    }
    response
}

/// Lets what only reads be answered by a replica, if there is one, and says how far behind that may be.
async fn with_leave(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let state = request.app_data::<Shared>();
    let may_lag = request.method().is_safe() && state.is_some_and(|state| state.door.has_replica());
    let leave = may_lag.then(Leave::default);
    let mut response = within(leave.clone(), next.call(request)).await?;
    if let Some(behind) = leave.and_then(|leave| leave.behind_ms()) {
        response.headers_mut().insert(HeaderName::from_static(BEHIND_MS), HeaderValue::from(behind));
    }
    Ok(response)
}
