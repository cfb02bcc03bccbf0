// The element: hands keys and messages to the board proper, which is a plain module of its own.
export default {
  template: '<div class="ll-board"></div>',
  props: { keys: Array, version: String },
  async mounted() {
    const { Board } = await import(`/assets/${this.version}/board/board.js`);
    this.board = new Board(this.$el, this.keys, (intent) => this.$emit('intent', intent));
    this.$el.board = this.board;
    for (const state of this.waiting || []) this.board.show(state);
    this.$emit('ready');
  },
  unmounted() { if (this.board) this.board.gone(); },
  methods: {
    show(state) {
      if (this.board) this.board.show(state);
      else (this.waiting ||= []).push(state);
    },
  },
};
