// @ts-check
/* How the handout fits on its page: the largest type, and the layout, by the rules by which the PDF is set (show/paper/handout.typ). */

const SIZES_PT = [11, 10.5, 10, 9.5, 9];
const MM = 96 / 25.4;
const ROOM = 292 * MM; // an A4 page less what browser and PDF may differ by
const LINE = 9 * MM;
const LEAST_LINES = 2;

/** @typedef {{stillsAside: boolean, wordsAside: boolean, pages: number, upfront: number}} Layout */
/** @typedef {{typePt: number, pages: number, withoutStills: boolean, withoutTurning: boolean, withoutDrills: number, overMm: number}} Fit */

/**
 * Lay out the page in a document, in the way that has room.
 * @param {Document} sheet  as `html_body` of show/handout/handout_html.py gives it
 * @param {boolean} back  whether it may go on over the back
 * @returns {Fit}
 */
export function fitSheet(sheet, back) {
  const page = new Sheet(sheet);
  for (const left of page.everLess()) {
    page.show(left);
    const fit = page.largest(back);
    if (fit) return { ...fit, ...left, overMm: 0 };
  }
  const overMm = Math.ceil((page.least(back) - ROOM) / MM);
  return { typePt: SIZES_PT[SIZES_PT.length - 1], pages: back ? 2 : 1, withoutStills: false, withoutTurning: false, withoutDrills: 0, overMm };
}

class Sheet {
  /** @param {Document} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    const main = /** @type {HTMLElement} */ (sheet.querySelector('main'));
    this.main = main;
    this.front = /** @type {HTMLElement} */ (main.querySelector('.a4'));
    this.tee = this.part('.tee');
    this.column = this.part('.tee .l');
    this.court = this.part('.tee .r');
    this.stills = this.part('.stills');
    this.turning = this.part('.turning');
    this.own = this.part('.words.own');
    this.week = this.part('.words.week');
    this.foot = this.part('.notes.foot');
    this.aims = this.part('.notes.aims');
    this.gap = this.part('.gap');
    this.caution = this.part('.caution');
    this.few = (this.stills?.querySelectorAll('figure').length ?? 0) <= 2;
    this.backPage = sheet.createElement('div');
    this.backPage.className = 'a4';
    this.frontFoot = /** @type {HTMLElement | null} */ (this.foot?.cloneNode(true) ?? null);
    this.over = sheet.createElement('p');
    this.over.className = 'over';
    this.over.textContent = main.dataset.over ?? '';
    this.overGap = sheet.createElement('div');
    this.overGap.className = 'gap';
  }

  /** @param {string} selector */
  part(selector) {
    return /** @type {HTMLElement | null} */ (this.main.querySelector(selector));
  }

  /** What is asked for, then without what matters least, as the PDF leaves it out. */
  everLess() {
    const drills = Math.max(1, this.week?.querySelectorAll('p').length ?? 0);
    return [
      ...(this.stills ? [{ withoutStills: false, withoutTurning: false, withoutDrills: 0 }] : []),
      ...(this.turning ? [{ withoutStills: true, withoutTurning: false, withoutDrills: 0 }] : []),
      ...Array.from({ length: drills }, (_, gone) => ({ withoutStills: true, withoutTurning: true, withoutDrills: gone })),
    ];
  }

  /** @param {{withoutStills: boolean, withoutTurning: boolean, withoutDrills: number}} left */
  show(left) {
    if (this.stills) this.stills.style.display = left.withoutStills ? 'none' : '';
    if (this.turning) this.turning.style.display = left.withoutTurning ? 'none' : '';
    const drills = [...(this.week?.querySelectorAll('p') ?? [])];
    for (const [n, drill] of drills.entries()) drill.style.display = n < drills.length - left.withoutDrills ? '' : 'none';
    this.withStills = this.stills !== null && !left.withoutStills;
  }

  /** The largest type that fits, with lines in what is left; null where none does. @param {boolean} back */
  largest(back) {
    for (const typePt of SIZES_PT) {
      const [layout, high] = this.best(typePt);
      if (high <= ROOM) return this.finish(typePt, layout);
    }
    for (const typePt of back ? SIZES_PT : []) {
      const layout = this.twoPages(typePt);
      if (this.high(typePt, layout) <= ROOM) return this.finish(typePt, layout);
    }
    return null;
  }

  /** How high the page is at the smallest type. @param {boolean} back */
  least(back) {
    const smallest = SIZES_PT[SIZES_PT.length - 1];
    const [layout, high] = this.best(smallest);
    const chosen = back ? this.twoPages(smallest) : layout;
    const two = this.high(smallest, chosen);
    return back ? two : high;
  }

  /** Two pages, with as many parts on the front as have room. @param {number} typePt @returns {Layout} */
  twoPages(typePt) {
    for (const upfront of [2, 1]) {
      const layout = { stillsAside: false, wordsAside: false, pages: 2, upfront };
      this.high(typePt, layout);
      if (naturalHeight(this.front) <= ROOM) return layout;
    }
    return { stillsAside: false, wordsAside: false, pages: 2, upfront: 0 };
  }

  /** The lowest layout on one page, and its height. @param {number} typePt @returns {[Layout, number]} */
  best(typePt) {
    /** @type {[Layout, number][]} */
    const measured = [];
    for (const stillsAside of this.court && this.withStills && this.few ? [false, true] : [false]) {
      for (const wordsAside of this.court && (this.own || this.week) ? [false, true] : [false]) {
        const layout = { stillsAside, wordsAside, pages: 1, upfront: 0 };
        measured.push([layout, this.high(typePt, layout)]);
      }
    }
    return measured.reduce((lowest, one) => (one[1] < lowest[1] ? one : lowest));
  }

  /** The height without ruled lines; of two pages the higher. @param {number} typePt @param {Layout} layout */
  high(typePt, layout) {
    this.place(typePt, layout);
    for (const lines of [this.foot, this.frontFoot, this.aims]) rule(lines, 0);
    const pages = layout.pages === 2 ? [this.front, this.backPage] : [this.front];
    return Math.max(...pages.map((page) => naturalHeight(page)));
  }

  /** @param {number} typePt @param {Layout} layout */
  finish(typePt, layout) {
    this.high(typePt, layout);
    if (this.court && this.column) rule(this.aims, linesIn(insideHeight(this.court) - insideHeight(this.column) - this.headingHigh(this.aims), 5));
    const last = layout.pages === 2 ? this.backPage : this.front;
    if (layout.pages === 2) rule(this.frontFoot, linesIn(ROOM - naturalHeight(this.front) - this.headingHigh(this.frontFoot), 24));
    rule(this.foot, linesIn(ROOM - naturalHeight(last) - this.headingHigh(this.foot), 24));
    return { typePt, pages: layout.pages };
  }

  /** Height of a heading over ruled lines, with the room before it. @param {HTMLElement | null} section */
  headingHigh(section) {
    if (!section) return 0;
    rule(section, 1, true);
    const high = section.getBoundingClientRect().height - LINE;
    rule(section, 0);
    return high;
  }

  /** Put each part where a layout has it. @param {number} typePt @param {Layout} layout */
  place(typePt, layout) {
    this.sheet.body.style.setProperty('--size', `${typePt}pt`);
    const two = layout.pages === 2;
    const parts = [layout.stillsAside ? null : this.stills, ...(layout.wordsAside ? [null, null] : [this.own, this.week])];
    const upfront = two ? layout.upfront : parts.length;
    this.front.append(...there([...parts.slice(0, upfront), ...(two ? [this.frontFoot, this.overGap, this.over] : [])]));
    if (two) this.main.append(this.backPage);
    else for (const part of there([this.backPage, this.frontFoot, this.overGap, this.over])) part.remove();
    (two ? this.backPage : this.front).append(...there([...parts.slice(upfront), this.foot, this.gap, this.caution]));
    const first = this.column?.querySelector('section');
    const under = [...(layout.wordsAside ? [this.own, this.week] : []), layout.stillsAside ? this.stills : null];
    first?.after(...there(under));
  }

  withStills = false;
}

/** Parts that are on the page. @param {(HTMLElement | null)[]} parts */
function there(parts) {
  return parts.filter((part) => part !== null);
}

/** Show so many ruled lines of a section; fewer than two are none. @param {HTMLElement | null} section @param {number} lines @param {boolean} [anyway] */
function rule(section, lines, anyway = false) {
  if (!section) return;
  section.style.display = lines >= LEAST_LINES || anyway ? '' : 'none';
  for (const [n, line] of [...section.querySelectorAll('div')].entries()) line.style.display = n < lines ? '' : 'none';
}

/** Lines that have room. @param {number} room @param {number} most */
export function linesIn(room, most) {
  const lines = Math.min(Math.max(Math.floor(room / LINE), 0), most);
  return lines >= LEAST_LINES ? lines : 0;
}

/** Height of a page by what is in it. @param {HTMLElement} page */
function naturalHeight(page) {
  page.style.minHeight = '0';
  const high = page.getBoundingClientRect().height;
  page.style.minHeight = '';
  return high;
}

/** Height from the first part of a column to the end of its last. @param {HTMLElement} column */
function insideHeight(column) {
  const shown = [...column.children].filter((child) => child.getClientRects().length > 0);
  if (!shown.length) return 0;
  return shown[shown.length - 1].getBoundingClientRect().bottom - shown[0].getBoundingClientRect().top;
}
