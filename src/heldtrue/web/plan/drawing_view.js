// The section as the form: a click or a finger takes the nearest place on it, arrow keys go from place to place, Enter
// opens what stands there. Places are in mm of the paper; one stop for Tab, however many they are.
const NEAR = 26; // px from a line, CORNER from a corner: what a finger meets
const CORNER = 8;

const within = (p, loop) => loop.reduce((inside, a, i) => {
  const b = loop[(i + 1) % loop.length];
  return (a[1] > p[1]) !== (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) ? !inside : inside;
}, false);
const apart = (p, a, b) => {
  const [x, y] = [b[0] - a[0], b[1] - a[1]], long = x * x + y * y;
  const t = long ? Math.max(0, Math.min(1, ((p[0] - a[0]) * x + (p[1] - a[1]) * y) / long)) : 0;
  return Math.hypot(p[0] - a[0] - t * x, p[1] - a[1] - t * y);
};
const distance = (p, line) => line.length === 1 ? apart(p, line[0], line[0])
  : Math.min(...line.slice(1).map((b, i) => apart(p, line[i], b)));

export default {
  template: `<div class="drawn"><img :src="picture" :alt="name">
    <svg ref="field" :viewBox="'0 0 ' + size[0] + ' ' + size[1]" role="listbox" tabindex="0" :aria-label="label"
      :aria-activedescendant="at >= 0 ? id(at) : null" @pointermove="over" @pointerleave="hover = -1" @click="click"
      @keydown="key" @focus="focused">
      <g v-for="(one, i) in spots" :key="one.key" role="option" :id="id(i)" :aria-label="one.words"
        :aria-selected="one.key === picked ? 'true' : 'false'"
        :class="{ spot: true, area: one.area, dot: one.lines[0].length === 1, hover: i === hover || i === at,
          picked: one.key === picked }">
        <template v-for="line in one.lines"><circle v-if="line.length === 1" :cx="line[0][0]" :cy="line[0][1]" r="1.5" />
          <polygon v-else-if="one.area" :points="joined(line)" /><polyline v-else :points="joined(line)" /></template>
      </g></svg></div>`,
  props: { picture: String, name: String, label: String, size: Array, spots: Array, picked: String },
  data() {
    return { hover: -1, at: -1 };
  },
  watch: {
    spots() { this.hover = -1; this.at = Math.min(this.at, this.spots.length - 1); },
  },
  methods: {
    id(i) { return `spot-${this.spots[i].key.replace(" ", "-")}`; },
    joined(line) { return line.map((one) => one.join(",")).join(" "); },
    nearest(event) {
      const field = this.$refs.field, to = field.getScreenCTM();
      if (!to) return -1;
      const p = [(event.clientX - to.e) / to.a, (event.clientY - to.f) / to.d];
      let found = -1, best = Infinity;
      this.spots.forEach((one, i) => {
        if (one.area) return;
        const far = Math.min(...one.lines.map((line) => distance(p, line))) * to.a, isDot = one.lines[0].length === 1;
        // A corner lies at the end of its edges: near it, it is the one that is meant.
        const counts = isDot ? (far <= CORNER ? far - CORNER : Infinity) : (far <= NEAR ? far : Infinity);
        if (counts < best) [found, best] = [i, counts];
      });
      if (found >= 0 && best <= NEAR / 2) return found;
      const area = this.spots.findIndex((one) => one.area && one.lines.some((loop) => within(p, loop)));
      return area >= 0 ? area : found;
    },
    over(event) { if (event.pointerType === "mouse") this.hover = this.nearest(event); },
    click(event) {
      const found = this.nearest(event);
      this.at = found;
      this.$emit("pick", found < 0 ? "" : this.spots[found].key);
    },
    focused() {
      if (this.at < 0 && this.spots.length && this.$refs.field.matches(":focus-visible")) this.at = 0;
    },
    key(event) {
      const count = this.spots.length;
      const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (step && count) this.at = (this.at + step + count) % count;
      else if (event.key === "Home") this.at = 0;
      else if (event.key === "End") this.at = count - 1;
      else if ((event.key === "Enter" || event.key === " ") && this.at >= 0) this.$emit("pick", this.spots[this.at].key);
      else if (event.key === "Escape") this.$emit("pick", "");
      else return;
      event.preventDefault();
    },
    // Back from the values to the place they belong to.
    back() { this.$refs.field.focus({ preventScroll: true }); },
  },
};
