//! From measurements to the survey on which a report is based.

use super::joint_tenths::Joint;
use super::layer_meter::LayerMeter;
use super::marks;
use super::mono_loss::Losses;
use super::pairs::Pairs;
use super::plan::Plan;
use super::source::Source;
use plumbline_programme::delivery::DeliveryVerdict;
use plumbline_programme::recording::{Contradiction, Recording};
use plumbline_programme::session::{BalanceVerdict, LayerLine, RolePart, SOUNDS_SHARE, Unaccounted};
use plumbline_programme::survey::{Bus, Layer, Sound, Survey};
use plumbline_programme::verdict::{Channels, Verdicts, Width};
use plumbline_programme::{Balance, Identity, Mic, Mics, Role, Session};

/// The survey, at the end of all measuring.
pub(super) fn survey(
    source: &impl Source,
    plan: &Plan,
    frames: u64,
    meters: Vec<LayerMeter>,
    joint: Joint,
    pairs: &Pairs,
    losses: Losses,
) -> Survey {
    let pairs = pairs.report();
    let losses = losses.worst();
    // The meters go first, to free their memory before the whole programme is judged.
    let mut sounds: Vec<Sound> = meters.into_iter().map(LayerMeter::sound).collect();
    let bus = sounds.pop().unwrap_or_default();
    let closed = joint.close();
    let (marks, joins) = marks::settled(&plan.marks, closed.events.joins(), source.rate(), frames);
    let whole = closed.whole.answer(&plan.band_edges);
    let files = |stems: &[usize]| stems.iter().map(|stem| source.file(*stem)).collect::<Vec<_>>();
    let layers: Vec<Layer> = plan
        .layers
        .iter()
        .enumerate()
        .zip(sounds)
        .map(|((at, layer), sound)| (at, layer, contradiction(layer.recording, &sound, plan), sound))
        .map(|(at, layer, contradiction, sound)| Layer {
            id: Joint::id_of(at),
            name: layer.name.clone(),
            role: layer.role,
            files: files(&layer.stems),
            sound,
            part: whole.layers.get(at).copied().unwrap_or_default(),
            recording: layer.recording,
            contradiction,
        })
        .collect();
    let mut passage = closed.passage;
    passage.loudness.integrated_lufs = bus.loudness.integrated_lufs;
    passage.loudness.range_lu = bus.loudness.range_lu;
    passage.shares = whole.roles.map(|role| role.share);
    passage.leads = whole.roles.map(|role| role.lead);
    // On a bus that is the sum of the layers, nothing is unaccounted for.
    let unaccounted =
        if plan.mix.is_some() && !layers.is_empty() { whole.unaccounted } else { Unaccounted::default() };
    passage.unaccounted_db = unaccounted.db;
    let target = plan.target.sane();
    let sounds =
        |role: Role| role.part().and_then(|at| whole.roles[at].share).is_some_and(|s| s >= SOUNDS_SHARE);
    let aims = plan.balance.in_force(sounds);
    let mics = Mics {
        lines: pairs.pairs.iter().map(|pair| pair.line.clone()).collect(),
        uncompared: pairs.uncompared,
        trouble: None,
    };
    let left_right = mics.line([Mic::Left, Mic::Right]);
    let channels = Channels { left_right, ..Channels::of(bus.channels) };
    let verdicts = Verdicts {
        delivery: DeliveryVerdict::of(&bus.loudness, &bus.meters, &bus.spectral.whole, &target),
        balance: balance(plan, &whole.roles.map(|part| RolePart { layers: 0, parts: [part; 3] })),
        mics: mics.verdict(),
        ..Verdicts::of(&bus.spectral, &plan.band_edges, channels)
    };
    Survey {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        date: plan.date.clone(),
        rate: source.rate(),
        frames,
        start: plan.start(source.origin(), source.rate()),
        target,
        target_name: plan.target_name.clone(),
        balance: aims,
        rules: plan.rules,
        band_edges: plan.band_edges,
        celsius: plan.celsius,
        bus: Bus {
            name: plan.bus_name(),
            is_mix: plan.mix.is_some(),
            files: plan.mix.as_deref().map(files).unwrap_or_default(),
            sound: bus,
        },
        layers,
        roles: whole.roles,
        unaccounted,
        matches: whole.matches,
        pairs,
        losses,
        verdicts,
        findings: closed.events.findings(),
        joins,
        marks,
        dropped: closed.events.dropped(),
        passage,
        lanes: closed.lanes,
    }
}

/// The verdict on the balance of the whole programme.
fn balance(plan: &Plan, roles: &[RolePart; plumbline_programme::PARTS]) -> BalanceVerdict {
    let line = |role: Role, own: bool| LayerLine {
        identity: Identity { role, ..Identity::default() },
        own,
        ..LayerLine::default()
    };
    let layers = plan.layers.iter().map(|layer| line(layer.role, false)).chain([line(Role::Mix, true)]);
    let session = Session { layers: layers.collect(), roles: *roles, ..Session::default() };
    Balance::verdict(&session, &plan.balance, BalanceVerdict::default())
}

/// The contradiction, if any, between the sound of a layer and its stated recording technique.
fn contradiction(recording: Recording, sound: &Sound, plan: &Plan) -> Option<Contradiction> {
    let channels = Channels { recording, ..Channels::of(sound.channels) };
    match Verdicts::of(&sound.spectral, &plan.band_edges, channels).width {
        Width::Contradicts { contradiction, .. } => Some(contradiction),
        _ => None,
    }
}
