// @ts-check
/* What the server says about a match: the shape of GET /api/matches/{id}/sheet (made in web/views/marker_sheet.py). */

/**
 * @typedef {'a' | 'b'} Side
 * @typedef {{
 *   key: string, n: number, game: number, n_in_game: number, server: Side | null, box: 'right' | 'left' | null,
 *   box_free: boolean, before: [number, number] | null, after: [number, number] | null, winner: Side | null,
 *   let: boolean, hand_out: boolean, call: string, ends_game: Side | null, certain: boolean, complete: boolean,
 *   answers: Record<string, any>, start_us: number | null, end_us: number | null, span_how: string | null,
 *   note: string, keep: boolean, measured?: string, provisional?: boolean, removed?: boolean,
 *   server_later?: boolean, shots: {n: number, by: Side, stroke: string | null}[], shots_in_all: number | null,
 *   ids: Record<string, string>
 * }} Rally
 * @typedef {{rally: string, what: string, standing: string, words: string, answers: {value: any, words: string, observer: string}[]}} Clash
 * @typedef {{n: number, points: [number, number], winner: Side | null, first_server: Side | null}} Game
 * @typedef {{key: string | null, code: string, words: string}} Fault
 * @typedef {{game: number, server: Side | null, box: 'right' | 'left' | null, box_free: boolean,
 *   points: [number, number], set_choice: boolean}} Next
 * @typedef {{id: string, match: string, observer: string, at_utc: string, rally: string, what: string, value: any,
 *   replaces: string | null}} Entry
 * @typedef {{id: string, rally: string, what: string, how?: string | null}} Logged
 * @typedef {{
 *   match: {id: string, title: string, depth: string, observer: string, day: string, best_of: number, coached: Side},
 *   names: {a: string, b: string}, short: {a: string, b: string}, hands_words: string,
 *   kind_words: Record<string, string>, next_key: number, clashes: Clash[],
 *   span_clashes: {rally: string, standing: string, value: any}[], proxy_words: string,
 *   script: import('./questions.js').Script, rallies: Rally[], games: Game[], games_won: [number, number], next: Next | null, faults: Fault[],
 *   winner: Side | null, over_words: string, log: Logged[], parts: import('./video-player.js').Part[],
 *   proposed: import('./timeline.js').Span[], lead_s: number
 * }} Sheet
 */

export {};
