/* What the server sends to the scripts and takes from them.

   Written by scripts/typescript_message_types.py from web/page_json_types/, from
   record/entry_validation_schemas.py and the bodies that routes take; a test holds it against them. */

/** One touch: metres on the unfolded court, shares of the picture; rings hold it 90 times in 100. */
export interface ContactDrawing {
  kind: string;
  words: string;
  us: number;
  with_sound: boolean;
  sheet: [number, number];
  foot: [number, number] | null;
  sheet_ring: [number, number][];
  picture: [number, number] | null;
  picture_ring: [number, number][];
}

/** The ball at one time, from above on the unfolded court and in the picture. */
export interface SampleDrawing {
  us: number;
  sheet: [number, number];
  picture: [number, number] | null;
  seen: boolean;
}

/** One way in which a shot may have gone; `chance` is 0 to 1. */
export interface PathDrawing {
  chance: number;
  speed_km_h: number;
  words: string;
  contacts: ContactDrawing[];
  samples: SampleDrawing[];
}

/** A shot with its paths, the best first; match times. */
export interface ShotDrawing {
  number: number;
  striker: string;
  struck_us: number;
  until_us: number;
  sure: boolean;
  corrected: boolean;
  reason: string;
  hidden_s: number;
  paths: PathDrawing[];
}

/** A serve measured from its path: words, and lines of a name, the best value and its range. */
export interface PathServe {
  words: string;
  level: number;
  lines: string[][];
}

/** The followed ball of one rally; `sounds_us` are those that are no strike. */
export interface RallyDrawing {
  key: string;
  from_us: number;
  to_us: number;
  shots: ShotDrawing[];
  missing: string[];
  reason: string;
  sounds_us: number[];
  version: number;
  out_of_date: string;
  serve: PathServe | null;
}

export type EntryKind = 'match' | 'span' | 'server' | 'box' | 'serve.kind' | 'serve.aim' | 'serve.receiver-place' | 'serve.fault-why' | 'serve.measured' | 'return.how' | 'return.stroke' | 'return.to' | 'return.left' | 'winner' | 'ending' | 'ending.stroke' | 'ending.volley' | 'ending.place' | 'ending.why' | 'set-to' | 'called' | 'shot' | 'note' | 'keep' | 'proposed' | 'conduct' | 'retired' | 'place' | 'remove' | 'undo' | 'damaged';

export type Side = 'a' | 'b';

/** An answer that the ball's path proposes, with its chance (0 to 1). */
export interface PathAnswer {
  what: EntryKind;
  value: string;
  chance: number;
  if_winner?: Side;
  if_server?: Side;
}

/** The proposals of one rally, match times; `ended` by what it was over, empty where that is not sure. */
export interface ProposedRally {
  start_us: number;
  end_us: number;
  answers: PathAnswer[];
  ended?: string;
}

/** What the ball's path proposes for Record, rally by rally. */
export interface PathProposals {
  rallies: ProposedRally[];
}

/** One file on the time line; media time is the time played plus `shift_us`. */
export interface Part {
  id: string;
  url: string;
  starts_us: number;
  first_us: number;
  end_us: number;
  shift_us: number;
}

/** A court mark by its name, px of the upright original; `detected` ones were not clicked. */
export interface Click {
  mark: string;
  u: number;
  v: number;
  detected?: boolean;
}

/** A mark of the court that can be clicked; `at` on the unfolded court. */
export interface CourtMark {
  name: string;
  words: string;
  edge: string;
  floor: boolean;
  at: [number, number];
}

/** A shape of the unfolded court. */
export interface Shape {
  what: string;
  points: [number, number][];
}

/** The unfolded court. */
export interface Plan {
  bounds: [number, number, number, number];
  shapes: Shape[];
}

/** A camera kept for a span of a file. */
export interface SavedCamera {
  from_us: number;
  clicked_us: number;
  holds: string;
  about: string;
  clicks: Click[];
  leave_out: string[];
}

/** The cameras kept for a file. */
export interface SavedCameras {
  cameras: SavedCamera[];
}

/** A span of match time. */
export interface Span {
  start_us: number;
  end_us: number;
}

/** The cameras kept for a file after one was removed, and the removal's id in the bin. */
export interface CameraRemoved {
  cameras: SavedCamera[];
  undo: string;
}

/** The file on whose pictures points are set, and how the player plays it. */
export interface PickedFile {
  footage: string;
  part: Part;
  size: [number, number];
  first_us: number;
  end_us: number;
  at_us: number;
}

/** The court found by itself in a frame: marks to check, what to know of them, or why there are none. */
export interface CourtProposal {
  offered: boolean;
  clicks: Click[];
  error_cm: number | null;
  why: string;
  note: string;
}

/** What the camera page begins with. */
export interface CameraPage {
  footage: string;
  part: Part;
  size: [number, number];
  first_us: number;
  end_us: number;
  at_us: number;
  marks: CourtMark[];
  plan: Plan;
  cameras: SavedCamera[];
  proposal: CourtProposal | null;
}

/** How far a mark lies from where the others put it. */
export interface Residual {
  mark: string;
  px: number;
  cm: number | null;
}

/** A mark that is probably a mistake, and where it is expected. */
export interface Suspect {
  mark: string;
  words: string;
  u: number;
  v: number;
}

/** A line of the court as it lies in the picture. */
export interface CourtLine {
  what: string;
  name: string;
  closed: boolean;
  uv: [number, number][];
}

/** A mark found in the picture; `edges` is how many edges agree. */
export interface Suggestion {
  mark: string;
  u: number;
  v: number;
  edges: number;
}

/** How well a place on a surface is known, and the share of it that the picture shows. */
export interface SurfaceError {
  median_cm: number | null;
  p95_cm: number | null;
  seen: number;
}

/** A camera solved from marks, what to say of it, and what is kept for the file now. */
export interface SolvedCamera {
  words: string[];
  not_known: string[];
  rms_px: number;
  marks: number;
  floor_only: boolean;
  front_only: boolean;
  lens_found: boolean;
  place_m: number[];
  focal_px: number;
  k1: number;
  size: [number, number];
  floor: SurfaceError | null;
  front_wall: SurfaceError | null;
  residuals: Residual[];
  suspects: Suspect[];
  strokes: CourtLine[];
  suggestions: Suggestion[];
  cameras: SavedCamera[];
}

/** Whether the camera still stands as it did. */
export interface CameraDrift {
  state: 'cannot-tell' | 'moved' | 'still';
  words: string;
}

export type MarkKind = 'strike' | 'feet' | 'front' | 'left' | 'right' | 'floor' | 'back' | 'second' | 'ball';

/** Something of a serve that can be clicked. */
export interface ServePointKind {
  what: MarkKind;
  words: string;
}

/** A click of a serve. */
export interface ServePoint {
  what: MarkKind;
  at_us: number;
  u: number;
  v: number;
  about?: boolean;
  found?: boolean;
  again?: [number, number];
}

/** What the page of a measured serve begins with. */
export interface MeasurePage {
  footage: string;
  part: Part;
  size: [number, number];
  first_us: number;
  end_us: number;
  at_us: number;
  match: string;
  rally: string;
  window: Span;
  span: Span;
  what: ServePointKind[];
  marks: ServePoint[];
  kept: boolean;
  warmth: string;
}

/** How far a click lies from the flight that fits all of them. */
export interface ServePointResidual {
  what: string;
  px: number;
  late_ms: number | null;
  doubted: boolean;
}

/** Where the flight touches a surface, in the picture. */
export interface Touch {
  n: number;
  u: number;
  v: number;
}

/** A serve measured from clicks, as the page shows it; `court` is a drawing as text. */
export interface MeasuredServe {
  lines: [string, string, string][];
  odds: string[];
  level: number;
  marks: ServePointResidual[];
  notes: string[];
  path: [number, number][][];
  touches: Touch[];
  court: string;
  kind: string | null;
  kind_words: string;
  kind_note: string;
}

/** The ball looked for between the clicks. */
export interface FoundBall {
  marks: ServePoint[];
  words: string;
  looked: number;
  seen: number;
}

/** The kind of serve that was recorded. */
export interface KindRecorded {
  kind: string;
}

/** Whether a measured serve is kept. */
export interface MeasurementSaved {
  kept: boolean;
}

/** A name of each player. */
export interface Names {
  a: string;
  b: string;
}

/** A rally detected, in match time, as the coach left it. */
export interface DetectedRally {
  id: string;
  start_us: number;
  end_us: number;
  hits_us: number[];
  doubtful: boolean;
  why: string;
  state: '' | 'kept' | 'out';
  seen: string;
  told: string;
  chance: number | null;
}

/** Something unusual about the recording. */
export interface DetectionNote {
  code: string;
  start_us: number;
  words: string;
}

/** All rallies detected in a match. */
export interface DetectedRallies {
  rallies: DetectedRally[];
  by: string;
  words: string;
  stale: boolean;
  knock_up_us: [number, number] | null;
  scores: string;
  looked_at: boolean;
  picture: string;
  notes: DetectionNote[];
  short: Names;
}

/** One detected rally of a review, with the answers given so far. */
export interface ReviewCard {
  id: string;
  half: 'random' | 'unsure';
  start_us: number;
  end_us: number;
  hit_us: number;
  hits: number;
  chance: number;
  doubtful: boolean;
  rally: string;
  hit: string;
  place: string;
  done: boolean;
}

/** So many of so many, with the ends of the 95% range. */
export interface ReviewShare {
  count: number;
  of: number;
  low: number;
  high: number;
}

/** The chance from which a rally is sure, and from which it is offered. */
export interface DetectionThresholds {
  sure_at: number;
  offered_at: number;
  answers: number;
}

/** The cards of a review, and what they show. */
export interface DetectionReview {
  cards: ReviewCard[];
  answered: number;
  random_right: ReviewShare;
  unsure_right: ReviewShare;
  hits_right: ReviewShare;
  thresholds: DetectionThresholds;
  proposed: DetectionThresholds;
  can_adapt: boolean;
  adapted: boolean;
  words: string[];
  short: Names;
}

export type Box = 'right' | 'left';

/** A rally of the draft: the outcome proposed, and how sure it is. */
export interface DraftRally {
  id: string;
  start_s: number;
  end_s: number;
  game: number;
  before: [number, number];
  server: Side;
  box: Box;
  winner: Side | null;
  chance: number;
  offered: boolean;
  sound_doubtful: boolean;
  told: string;
}

/** A rally that the score needs and nobody detected. */
export interface MissedRally {
  after: string | null;
  game: number;
  before: [number, number];
  winner: Side;
}

/** One of the steps above a match's pages. */
export interface Step {
  name: string;
  state: string;
  words: string;
}

/** The draft of the marker's sheet; where none can be made, `words` say why. */
export interface Draft {
  words: string;
  scores: string;
  written: number;
  rallies: DraftRally[];
  lost: MissedRally[];
  first: string[];
  short: Names;
  expected_right?: number;
  at?: string | null;
  steps?: Step[];
}

/** A joint in the picture, px; none where it was not found. */
export interface Joint {
  u: number | null;
  v: number | null;
  error_px: number | null;
  seen: boolean;
  by_hand: boolean;
}

/** An angle at a joint, or why there is none. */
export interface JointAngle {
  name: string;
  side: string;
  degrees: number | null;
  error_degrees: number | null;
  why: string;
}

/** The way of the hand round contact, one value a frame; none where it was not found. */
export interface HandPath {
  times_us: number[];
  across_m: (number | null)[];
  up_m: (number | null)[];
  error_m: (number | null)[];
  speed_m_s: (number | null)[];
  speed_error_m_s: (number | null)[];
}

/** The joints of a player at a strike. */
export interface Pose {
  rally: string;
  who: string;
  footage: string;
  at_us: number;
  found: number;
  corrected: number;
  angles: JointAngle[];
  hand: HandPath | null;
  joints: Joint[];
}

/** Two serves as the coach set them. */
export interface SideBySide {
  rallies: [string, string];
  nudge_us: [number, number];
  mirrored: boolean;
}

/** What the page of two serves begins with. */
export interface SideBySidePage {
  rallies: [string, string];
  nudge_us: [number, number];
  mirrored: boolean;
  match: string;
  parts: Part[];
  contacts_us: number[];
  before_s: number;
  after_s: number;
}

/** A clip to be shown, with its cue. */
export interface ReviewClip {
  start_us: number;
  end_us: number;
  role: string;
  cue: string;
}

/** The clips to be shown. */
export interface ReviewPage {
  match: string;
  items: ReviewClip[];
}

/** The handout as it is being written: the body of its page, and what stands against making it. */
export interface HandoutPreview {
  body: string;
  title: string;
  language: string;
  direction: string;
  faults: string[];
}

/** Which sets are stored, and what the log says of each drill now. */
export interface SetsStored {
  stored: string[];
  words: Record<string, string>;
}

export type Depth = 'score' | 'serve-and-return' | 'every-shot';

/** What the match is called and how it is recorded. */
export interface Match {
  id: string;
  title: string;
  depth: Depth;
  observer: string;
  day: string;
  best_of: number;
  coached: Side;
}

/** An answer to choose, and the question it answers. */
export interface AnswerChoice {
  value: EntryValues[EntryKind];
  words: string;
  key: string | null;
  what: EntryKind;
}

/** A question is spared if `what` was answered by one of `values` or holds one of the parts `having`. */
export interface Unless {
  what: EntryKind;
  values: EntryValues[EntryKind][];
  having: string[];
}

/** One question of the script. */
export interface Question {
  id: EntryKind;
  ask: string;
  answers: AnswerChoice[];
  unless: Unless[];
  extra: boolean;
  repeats: boolean;
  when: string;
  free_words: boolean;
}

/** How the service box is said. */
export interface BoxRule {
  what: EntryKind;
  key: string;
  write_when_free: boolean;
}

/** The first shot that is asked for, and the answer that ends them. */
export interface ShotRule {
  first: number;
  last: string;
}

/** Keys of the card. */
export interface ScriptKeys {
  skip: string;
  back: string;
  note: string;
  keep: string;
  called: string;
}

/** Something that the marker may have called; `to`: a player is asked for; `score`: figures are. */
export interface CallChoice {
  key: string;
  words: string;
  value: CalledValue;
  to: boolean;
  score?: boolean;
}

/** The script of questions, walked by the page without asking the server. */
export interface Script {
  depth: Depth;
  questions: Question[];
  box: BoxRule;
  shots: ShotRule;
  keys: ScriptKeys;
  called: CallChoice[];
  along?: EntryKind[];
}

/** One shot of a rally. */
export interface SheetShot {
  n: number;
  by: Side;
  stroke: string | null;
}

/** What replay says of one rally; it follows from the rallies before it too. */
export interface Scored {
  n: number;
  game: number;
  n_in_game: number;
  server: Side | null;
  box: Box | null;
  box_free: boolean;
  before: [number, number];
  after: [number, number];
  winner: Side | null;
  let: boolean;
  hand_out: boolean;
  call: string;
  ends_game: Side | null;
  certain: boolean;
  complete: boolean;
}

/** One rally: what replay says of it and the answers that stand. */
export interface Rally {
  n: number;
  game: number;
  n_in_game: number;
  server: Side | null;
  box: Box | null;
  box_free: boolean;
  before: [number, number];
  after: [number, number];
  winner: Side | null;
  let: boolean;
  hand_out: boolean;
  call: string;
  ends_game: Side | null;
  certain: boolean;
  complete: boolean;
  key: string;
  answers: Partial<EntryValues>;
  ids: Partial<Record<EntryKind, string>>;
  start_us: number | null;
  end_us: number | null;
  span_how: string | null;
  shots: SheetShot[];
  shots_in_all: number | null;
  note: string;
  keep: boolean;
  measured: string;
  drafted?: EntryKind[];
  to_confirm?: EntryKind[];
  unwatched?: boolean;
}

/** A game so far. */
export interface Game {
  n: number;
  points: [number, number];
  winner: Side | null;
  first_server: Side | null;
}

/** The rally that comes. */
export interface NextRally {
  game: number;
  server: Side | null;
  box: Box | null;
  box_free: boolean;
  points: [number, number];
  set_choice: boolean;
  opening: string;
}

/** Something in the record that does not fit together. */
export interface Fault {
  key: string | null;
  code: string;
  words: string;
}

/** One of two answers to one question. */
export interface ClashAnswer {
  value: EntryValues[EntryKind];
  words: string;
}

/** A question that two tabs answered differently; `standing` is the entry that a choice replaces. */
export interface Clash {
  rally: string;
  what: EntryKind;
  standing: string;
  words: string;
  answers: ClashAnswer[];
}

/** Two times of one rally that were given unasked, and the longer one that holds both. */
export interface SpanClash {
  rally: string;
  standing: string;
  value: SpanValue;
}

/** A drafted winner that an answer took away: the undo, the drafted entry, and what it said. */
export interface Overruled {
  undo: string;
  id: string;
  winner: Side;
  to_confirm: boolean;
}

/** An entry that may be stepped back over, and the drafted winner that comes back with the step. */
export interface Logged {
  id: string;
  rally: string;
  what: EntryKind;
  how: string | null;
  overruled?: Overruled;
}

/** A rally detected in the footage that no recorded one has taken. */
export interface ComingRally {
  start_us: number;
  end_us: number;
  doubtful: boolean;
}

/** Everything the Record page needs to ask, show and step back. */
export interface Sheet {
  match: Match;
  names: Names;
  short: Names;
  kind_words: Record<string, string>;
  script: Script;
  rallies: Rally[];
  games: Game[];
  games_won: [number, number];
  next: NextRally | null;
  next_key: number;
  faults: Fault[];
  clashes: Clash[];
  span_clashes: SpanClash[];
  winner: Side | null;
  over_words: string;
  log: Logged[];
  parts: Part[];
  proposed: ComingRally[];
  proxy_words: string;
  lead_s: number;
  hands_words?: string;
  version?: string;
}

/** Fields of a score, of many rows: `same` is what all of them have, `each` a value for each key. */
export interface ScoreColumns {
  keys: string[];
  same: Partial<Scored>;
  each: Partial<{[Field in keyof Scored]: Scored[Field][]}>;
}

/** What changed of a sheet since a version of it: whole parts, and rows by their key. */
export interface SheetChanges {
  since: string;
  version: string;
  parts: Partial<Sheet>;
  rallies: Rally[];
  scores: ScoreColumns | null;
  order: string[] | null;
}

/** Which entries are stored, and the sheet they make, or what they changed of the one the page holds. */
export interface Stored {
  stored: string[];
  sheet?: Sheet;
  changes?: SheetChanges;
}

/** Rallies that can be taken unwatched, and the check of the sample. */
export interface BulkOffer {
  state: 'checking' | 'none' | 'offered' | 'ready' | 'taken' | 'withdrawn';
  sure: string[];
  sample: string[];
  right: number;
  wrong: number;
  taken: number;
  to_check: string[];
  ask: string;
  text: string;
}

/** A pause in which a rally may be missing: where it lies, where in it to look, and why it is asked about. */
export interface MissingRallyQuestion {
  after: string;
  start_us: number;
  end_us: number;
  likely_start_us: number;
  likely_end_us: number;
  text: string;
}

/** The pauses worth a look, the likeliest first. */
export interface MissingRallyQuestions {
  questions: MissingRallyQuestion[];
}

/** The entry that holds a time. */
export interface StoredSpan {
  id: string;
}

/** The files of a match, and words where one is awaited. */
export interface Files {
  parts: Part[];
  waits: string;
}

/** When the frames of one file begin: ticks of `base` seconds, equal steps counted together. */
export interface FrameTable {
  n: number;
  base: [number, number];
  first: number;
  end: number;
  steps: [number, number][];
  shift: number;
  counted: string;
}

/** When the frames of a span of one file begin, media time. */
export interface FrameTimes {
  starts_us: number[];
}

/** Small pictures of one file, many on a sheet; `times_us` media time, sizes px; `awaited` while made. */
export interface PreviewSheets {
  ready: boolean;
  awaited: boolean;
  made: string;
  times_us: number[];
  across: number;
  down: number;
  width: number;
  height: number;
}

/** A rally detected, match time, with the hits heard in it. */
export interface PlayedRally {
  start_us: number;
  end_us: number;
  hits_us: number[];
}

/** When the ball met what, as heard: racket, front wall, other wall, floor, tin. */
export interface Impact {
  us: number;
  what: string;
}

/** What the player can jump to. */
export interface Impacts {
  rallies: PlayedRally[];
  impacts: Impact[];
}

/** One piece drawn on a frame; points are shares of the picture's width and height. */
export interface FrameDrawing {
  id: string;
  at_us: number;
  rally: string;
  kind: 'angle' | 'arrow' | 'circle' | 'freehand' | 'line' | 'spotlight' | 'text';
  points: [number, number][];
  text: string;
}

/** Everything drawn on frames of a match, in the order drawn. */
export interface FrameDrawings {
  drawings: FrameDrawing[];
}

/** A player's path in the picture: match times, and shares of its width and height. */
export interface PicturePath {
  who: string;
  times_us: number[];
  points: [number, number][];
}

/** Body points round a strike: match times, and shares of the picture; none where not seen. */
export interface PictureBody {
  who: string;
  times_us: number[];
  joints: (([number, number] | null)[])[];
}

/** Why something cannot be drawn over the picture; empty where it can. */
export interface MissingOverlay {
  court: string;
  paths: string;
  joints: string;
}

/** Court lines, paths and body points over the picture at a moment, and words for what is missing. */
export interface PictureOverlay {
  lines: [number, number][][];
  paths: PicturePath[];
  bodies: PictureBody[];
  missing: MissingOverlay;
}

/** Places of the ball in one frame, the best first: shares of width and height, and score. */
export interface FrameBall {
  us: number;
  places: [number, number, number][];
  sure: boolean;
  joined: boolean;
}

/** The ball found in the rally at a moment, frame by frame, and words for what is lost or missing. */
export interface BallInPicture {
  from_us: number;
  to_us: number;
  frames: FrameBall[];
  words: string;
}

/** How far a job is; `share` is 0 to 1. */
export interface Job {
  id: string;
  state: string;
  share: number;
  words: string;
}

/** The id of a file that was copied in; empty where sending stopped half-way. */
export interface FootageAdded {
  id: string;
}

/** A video that another device sends; bytes, and the share of its hash that is checked, 0 to 1. */
export interface Transfer {
  id: string;
  name: string;
  size: number;
  received: number;
  piece: number;
  phase: 'checking' | 'done' | 'failed' | 'receiving';
  checked: number;
  words: string;
}

/** The videos that are being sent to a match. */
export interface Transfers {
  transfers: Transfer[];
}

/** One step that goodlength takes by itself; `share` is 0 to 1, `words` stand beside its title. */
export interface PreparationStep {
  name: string;
  title: string;
  state: 'done' | 'failed' | 'left out' | 'paused' | 'person' | 'running' | 'stopped' | 'waiting';
  words: string;
  share: number;
  can_leave_out: boolean;
  can_take_in: boolean;
}

/** What a person does next: the words of the button and its address, and why. */
export interface NextStep {
  name: string;
  label: string;
  href: string;
  why: string;
  needed: boolean;
  can_skip: boolean;
}

/** How far the preparation of a match is; `left` says about how long goodlength still works. */
export interface Preparation {
  works: boolean;
  paused: boolean;
  left: string;
  steps: PreparationStep[];
  next: NextStep;
}

/** Where a back-up was unpacked, in words; empty where sending stopped half-way. */
export interface Restored {
  words: string;
  folder: string;
}

/** Which opening of a library this is, and why the one wanted last could not be opened. */
export interface LibraryInUse {
  run: string;
  folder: string;
  fault: string;
}

/** The match that a video begins. */
export interface NewMatch {
  match: string;
}

/** The two players as they are called now, and the match's title. */
export interface SavedNames {
  title: string;
}

/** Whether a match without its video was removed. */
export interface Abandoned {
  removed: boolean;
}

/** How far a match of the list is: its result or the rally to be logged, and what a person does next. */
export interface MatchState {
  id: string;
  result: string;
  next: NextStep;
}

/** The matches that were asked for and are there. */
export interface MatchStates {
  states: MatchState[];
}

/** From the serve to the end of the rally, in match time; the end may be unknown. */
export interface SpanValue {
  start_us: number;
  end_us?: number | null;
  how?: 'answers' | 'heard' | 'marked';
}

/** One mark on a picture: what was seen, when (media time), where (px of the upright original). */
export interface MarkValue {
  what: 'back' | 'ball' | 'feet' | 'floor' | 'front' | 'left' | 'right' | 'second' | 'strike';
  at_us: number;
  u: number;
  v: number;
  about?: boolean;
  found?: boolean;
  again?: [number, number] | null;
}

/** A serve measured from marks: the marks, and what followed from them when they were made. */
export interface MeasuredValue {
  footage: string;
  marks: MarkValue[];
  struck_us: number;
  level: number;
  speed_m_s: [number, number, number];
  up_deg: [number, number, number];
  struck_m: [[number, number, number], [number, number, number], [number, number, number]];
  front_x_m: [number, number, number];
  front_z_m: [number, number, number];
  to_front_s: [number, number, number];
  side?: 'left' | 'right' | null;
  side_y_m?: [number, number, number] | null;
  side_z_m?: [number, number, number] | null;
  bounce_x_m?: [number, number, number] | null;
  bounce_y_m?: [number, number, number] | null;
  second_x_m?: [number, number, number] | null;
  second_y_m?: [number, number, number] | null;
  room_m?: [number, number, number] | null;
  good_of_100?: number | null;
  side_first_of_100?: number | null;
  dies_of_100?: number | null;
  heard?: boolean;
  warmth?: 'club' | 'cold' | 'hot' | 'unsure' | 'warm' | null;
  click_evidence?: [number, number][] | null;
}

export type ReturnKind = 'volleyed' | 'after-the-side-wall' | 'after-the-bounce' | 'off-the-back-wall' | 'not-made';

export type ShotType = 'drive' | 'cross-court' | 'boast' | 'drop' | 'lob' | 'kill' | 'other';

export type Left = 'not-made' | 'loose' | 'tight' | 'attacked';

export type Ending = 'winner' | 'forced-error' | 'unforced-error' | 'stroke' | 'no-let' | 'let' | 'service-fault' | 'conduct';

/** The marker called it otherwise: a decision, a call, the score put right, or several of these. */
export interface CalledValue {
  decision?: 'let' | 'no-let' | 'stroke' | null;
  to?: 'a' | 'b' | null;
  call?: 'down' | 'fault' | 'not-up' | 'out' | null;
  points?: [number, number] | null;
  server?: 'a' | 'b' | null;
  box?: 'left' | 'right' | null;
}

/** One shot; the serve is shot 1. */
export interface ShotValue {
  n: number;
  by: 'a' | 'b';
  stroke?: 'boast' | 'cross-court' | 'drive' | 'drop' | 'kill' | 'lob' | 'other' | 'serve' | null;
  volley?: boolean | null;
  place?: 'back-left' | 'back-middle' | 'back-right' | 'front-left' | 'front-middle' | 'front-right' | 'mid-left' | 'mid-right' | 'middle' | null;
  at_us?: number | null;
  pressed?: boolean | null;
}

/** How many shots the rally had; said when the last one is written down. */
export interface ShotCount {
  count: number;
}

/** One answer as it was proposed: the question, the value, and the chance given for it. */
export interface ProposedAnswer {
  what: string;
  value: string;
  chance: number;
}

/** What was proposed in a rally, by what, and how surely; the answers say what became of it. */
export interface ProposedValue {
  by: 'ball-path' | 'score-draft';
  answers: ProposedAnswer[];
  sample?: boolean;
}

/** A conduct stroke or a conduct game, and who it was given to. */
export interface ConductValue {
  to: 'a' | 'b';
  game?: boolean;
}

/** A player who stopped, and why in the words told. */
export interface RetiredValue {
  side: 'a' | 'b';
  why?: string;
}

/** The rally after which this one belongs; null puts it first. */
export interface PlaceValue {
  after?: string | null;
}

/** A click on the ball: match time, and shares of the picture's width and height. */
export interface BallMarkIn {
  version: number;
  us: number;
  x: number;
  y: number;
}

/** A named court mark and where it was clicked or detected, px of the upright picture of the original. */
export interface ClickIn {
  mark: string;
  u: number;
  v: number;
  detected?: boolean;
}

/** All marks clicked on one picture, those left out by name; `keep` keeps the camera they give. */
export interface CameraMarksIn {
  at_us: number;
  clicks: ClickIn[];
  leave_out?: string[];
  keep?: boolean;
  suggest?: boolean;
}

/** A correction of one rally heard; what is left out stays. */
export interface CorrectionIn {
  start_us?: number | null;
  end_us?: number | null;
  state?: string | null;
  seen?: string | null;
  told?: string | null;
}

/** Scores, or what the coach says of one rally: who won ("a", "b", "let", "" as proposed) or none. */
export interface DraftIn {
  scores?: string | null;
  rally?: string | null;
  told?: string | null;
  state?: string | null;
}

/** One piece, as it is drawn; the task says what is wrong with it. */
export interface DrawingIn {
  id: string;
  at_us: number;
  kind: string;
  points: [number, number][];
  text?: string;
}

/** Entries as the page sends them: `record.record_json_conversion` reads each and names what is wrong. */
export interface EntriesIn {
  entries: Record<string, unknown>[];
  since?: string | null;
}

/** Where a player's feet are in the picture at contact, px: his joints are looked for there. */
export interface FeetIn {
  rally: string;
  who: 'a' | 'b';
  shot?: number;
  u: number;
  v: number;
}

/** The hash of a video that has been sent whole. */
export interface FinishIn {
  sha256: string;
}

/** Which kept camera is meant: the media time it holds from. */
export interface FromIn {
  from_us: number;
}

/** Where a joint is in the picture at contact, px; without a place it is taken back to what was found. */
export interface JointIn {
  rally: string;
  who: 'a' | 'b';
  shot?: number;
  at_us: number;
  joint: number;
  u?: number | null;
  v?: number | null;
}

/** A kind of serve. */
export interface KindIn {
  kind: string;
}

/** Which library to open: a folder, and whether a new library is made there. */
export interface LibraryIn {
  folder: string;
  make?: boolean;
}

/** A rally marked where nothing was heard. */
export interface MarkedIn {
  start_us: number;
  end_us: number;
}

/** The two players of a match by name, which one is coached, and its day; a day left empty stays. */
export interface NamesIn {
  a: string;
  b: string;
  coached?: 'a' | 'b';
  played_on?: string;
}

/** Two rallies, and what the coach set of them. */
export interface PairIn {
  rallies: string[];
  nudge_us: number[];
  mirrored: boolean;
}

/** The version of a rally as the page shows it; a correction of any other is refused. */
export interface RallyVersionIn {
  version: number;
}

/** One answer of a review; empty takes it back. */
export interface ReviewAnswerIn {
  question: string;
  answer: string;
}

/** The light of the room. */
export interface RoomIn {
  room: 'dim' | 'light';
}

/** The clicks of one serve, whether a hit heard may time the strike, and how warm the ball was. */
export interface ServeMarksIn {
  marks: MarkValue[];
  sound?: boolean;
  warmth?: '' | 'club' | 'cold' | 'hot' | 'unsure' | 'warm';
}

/** One set as the court-side page sends it. */
export interface SetIn {
  id: string;
  drill: string;
  hits: number;
  attempts: number;
  order: string;
  on: string;
  places?: [number, number][];
  aim?: [number, number] | null;
}

/** Sets in the order they were logged. */
export interface SetsIn {
  sets: SetIn[];
}

/** A shot of a rally by its number. */
export interface ShotIn {
  version: number;
  shot: number;
}

/** The time of a rally put right on the Footage page. */
export interface SpanIn {
  id: string;
  tab: string;
  rally: string;
  start_us: number;
  end_us?: number | null;
  replaces?: string | null;
}

/** Where a shot's strike belongs: the match time of a sound. */
export interface StrikeIn {
  version: number;
  shot: number;
  to_us: number;
}

/** A video that is to be sent. */
export interface TransferIn {
  name: string;
  size: number;
  fingerprint: string;
}

/** A video that a match is to begin with. */
export interface VideoIn {
  name: string;
  size: number;
  fingerprint: string;
}

/** What each kind of entry may hold; null: skipped. */
export interface EntryValues {
  'match': Record<string, unknown> | null;
  'span': SpanValue | null;
  'server': 'a' | 'b' | null;
  'box': 'left' | 'right' | null;
  'serve.kind': string | null;
  'serve.aim': string | null;
  'serve.receiver-place': 'back' | 'up' | 'usual' | 'wide' | null;
  'serve.fault-why': string | null;
  'serve.measured': MeasuredValue | null;
  'return.how': ReturnKind | null;
  'return.stroke': ShotType | null;
  'return.to': 'boast' | 'cross-court' | 'short' | 'straight' | 'back-left' | 'back-middle' | 'back-right' | 'front-left' | 'front-middle' | 'front-right' | 'mid-left' | 'mid-right' | 'middle' | null;
  'return.left': Left | null;
  'winner': 'a' | 'b' | null;
  'ending': Ending | null;
  'ending.stroke': ShotType | null;
  'ending.volley': boolean | null;
  'ending.place': 'back-left' | 'back-middle' | 'back-right' | 'front-left' | 'front-middle' | 'front-right' | 'mid-left' | 'mid-right' | 'middle' | null;
  'ending.why': 'choice' | 'execution' | null;
  'set-to': 10 | 15 | 17 | 9 | null;
  'called': CalledValue | null;
  'shot': ShotValue | ShotCount | null;
  'note': string | null;
  'keep': boolean | null;
  'proposed': ProposedValue | null;
  'conduct': ConductValue | null;
  'retired': RetiredValue | null;
  'place': PlaceValue | null;
  'remove': boolean | null;
  'undo': null;
  'damaged': null;
}

/** One answer of a kind, as it is sent. */
export interface EntryOf<Kind extends EntryKind> {
  id: string;
  match: string;
  observer: string;
  at_utc: string;
  rally: string;
  what: Kind;
  value: EntryValues[Kind];
  replaces: string | null;
}

/** One answer as it is sent. */
export type Entry = { [Kind in EntryKind]: EntryOf<Kind> }[EntryKind];
