import { answerCalls } from '../worker/answer-calls.ts';
import { createReader } from './worker-reader.ts';

answerCalls(createReader);
